"""Writes of `core`: each a verb, one transaction, no network."""
