"""Writes of `jobs`: each a verb, keyword-only, one transaction, no network."""
