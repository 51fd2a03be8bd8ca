"""Writes of `plots`: each a verb, one transaction, no network."""
