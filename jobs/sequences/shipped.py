"""The sequences and reference data that come with the program, read from their folder."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from jobs.sequences.reading import from_document
from jobs.sequences.reference import Reference, read_reference
from jobs.sequences.spec import SequenceError, SequenceSpec


@dataclass(frozen=True, slots=True)
class Shipped:
    """Reference data, every sequence by its key, and the plain document each was read from (the form to store)."""

    reference: Reference
    sequences: Mapping[str, SequenceSpec]
    documents: Mapping[str, Mapping[str, Any]]


def read_folder(folder: Path) -> Shipped:
    """All shipped data of a folder: sources, operations, cautions, crops, and its sequences in the order of names."""
    names = ("sources", "operations", "cautions", "crops")
    reference = read_reference(*((folder / f"{name}.toml").read_text(encoding="utf-8") for name in names))
    sequences: dict[str, SequenceSpec] = {}
    documents: dict[str, Mapping[str, Any]] = {}
    for path in sorted((folder / "sequences").glob("*.toml")):
        document = tomllib.loads(path.read_text(encoding="utf-8"))
        spec = from_document(document, reference)
        if spec.key != path.stem:
            raise SequenceError(path.name, [f"It holds the sequence {spec.key}; name the file after it."])
        sequences[spec.key], documents[spec.key] = spec, document
    for spec in sequences.values():
        unknown = sorted({key for row in spec.across for key in row.sequences} - sequences.keys())
        if unknown:
            raise SequenceError(spec.name, [f"It waits for jobs of the unknown sequence {key}." for key in unknown])
    return Shipped(reference, sequences, documents)
