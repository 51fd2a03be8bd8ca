"""Reads of `jobs`: rows to plain data and answers."""
