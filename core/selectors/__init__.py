"""Reads of `core`."""
