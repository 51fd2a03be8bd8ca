"""The REST API of `core`."""
