"""Sequences: reusable sets of field operations with their prerequisites, read, checked, laid out on a year."""

from jobs.sequences.calendar import SeasonDay, anchor_year, read_day
from jobs.sequences.expanding import Expansion, expand
from jobs.sequences.options import Closed, closed_by
from jobs.sequences.reading import from_document, read
from jobs.sequences.reference import Reference, read_reference
from jobs.sequences.shipped import Shipped, read_folder
from jobs.sequences.spec import SequenceError, SequenceSpec

__all__ = [
    "Closed",
    "Expansion",
    "Reference",
    "SeasonDay",
    "SequenceError",
    "SequenceSpec",
    "Shipped",
    "anchor_year",
    "closed_by",
    "expand",
    "from_document",
    "read",
    "read_day",
    "read_folder",
    "read_reference",
]
