"""The REST API of `plots`."""
