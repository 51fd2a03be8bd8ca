"""The REST API of `jobs`."""
