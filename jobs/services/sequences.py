"""New versions of sequences: those that ship with the program, and a holding's own. A version is never edited."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import Max, Q

from core.errors import NotAllowed, Refused
from core.models import Holding, Person
from core.services.facts import lock_graph
from core.services.rows import log
from jobs.models import NeedKind, Season, Sequence
from jobs.reference import reference
from jobs.sequences import SequenceError, SequenceSpec, from_document, read_folder
from jobs.sequences.shape import shape_faults
from jobs.services.across import spec_of
from jobs.services.seasons import apply_sequence
from plots.models import Crop, Plot, Source

MOST_PLOTS = 100


def load_shipped() -> list[Sequence]:
    """Store the shipped sequences as rows without a holding; one whose document is stored already stays as it is.

    Returns the versions that are new."""
    made = []
    with transaction.atomic():
        for key, document in sorted(read_folder(Path(settings.FIXTURES)).documents.items()):
            newest = Sequence.objects.filter(holding=None, key=key).order_by("-version").first()
            if newest is not None and _same(newest.document, document):
                continue
            version = max(newest.version + 1 if newest else 1, document.get("version", 1))
            made.append(
                Sequence.objects.create(
                    key=key, version=version, name=document["name"], document={**document, "version": version}
                )
            )
    return made


def load_reference() -> None:
    """Store the shipped sources and crops that are not there yet; a row that somebody edited stays as it is."""
    known = reference()
    Source.objects.bulk_create(
        (
            Source(key=s.key, title=s.title, publisher=s.publisher, year=s.year, worth=s.worth)
            for s in known.sources.values()
        ),
        ignore_conflicts=True,
    )
    Crop.objects.bulk_create(
        (
            Crop(key=c.key, name=c.name, degree_days=c.degree_days, facts={"values": [asdict(v) for v in c.values]})
            for c in known.crops.values()
        ),
        ignore_conflicts=True,
    )


def _same(stored: Mapping[str, Any], document: Mapping[str, Any]) -> bool:
    return {**stored, "version": 0} == {**document, "version": 0}


def save_version(*, holding: Holding, document: Mapping[str, Any], by: Person | None) -> Sequence:
    """Store a whole document as the next version of the holding's own sequence of that key, also of a key that ships.

    Seasons that were applied keep the version they were made from.

    Raises:
        SequenceError: the document is no sequence; it lists every fault in plain words.
    """
    spec = _checked(holding.pk, document)
    with transaction.atomic():
        lock_graph(holding.pk)
        own = Sequence.objects.filter(holding=holding, key=spec.key)
        version = (own.aggregate(newest=Max("version"))["newest"] or 0) + 1
        row = Sequence.objects.create(
            holding=holding, key=spec.key, version=version, name=spec.name, document={**document, "version": version}
        )
        log(holding_id=holding.pk, by=by, verb="added", row=row, change={"key": spec.key, "version": version})
    return row


def _checked(holding_id: int, document: Mapping[str, Any]) -> SequenceSpec:
    faults = shape_faults(document)
    if faults:
        raise SequenceError("The document", faults)
    spec = from_document(document, reference())
    named = {key for row in spec.across for key in row.sequences} - {spec.key}
    known = Sequence.objects.filter(Q(holding=holding_id) | Q(holding=None), key__in=named).values_list(
        "key", flat=True
    )
    unknown = sorted(named - set(known))
    if unknown:
        raise SequenceError(spec.name, [f"It waits for jobs of the unknown sequence {key}." for key in unknown])
    return spec


def retire_sequence(*, sequence: Sequence, by: Person) -> None:
    """Take the holding's own sequence of this key, with all its versions, off the list; its seasons stay.

    Where a sequence of the same key ships with the program, that one is used again.

    Raises:
        NotAllowed: it ships with the program.
    """
    if sequence.holding_id is None:
        raise NotAllowed("This sequence comes with the program and stays. Copy it under your own name to change it.")
    with transaction.atomic():
        lock_graph(sequence.holding_id)
        rows = Sequence.objects.filter(holding_id=sequence.holding_id, key=sequence.key, retired=False)
        if rows.update(retired=True):
            log(holding_id=sequence.holding_id, by=by, verb="retired", row=sequence, change={"key": sequence.key})


def apply_to_plots(
    *,
    plots: Iterable[Plot],
    sequence: Sequence,
    year: int,
    by: Person | None,
    label: str = "",
    materials: Mapping[str, int] | None = None,
) -> list[Season]:
    """Apply a sequence to several plots, all or none; on each as `apply_sequence` does it.

    Raises:
        Refused: the sequence is retired, a role of `materials` is not one of its own, or as `apply_sequence`.
    """
    if sequence.retired:
        raise Refused("This sequence is retired. Apply its newest version, or store it anew.", code="retired")
    steps = spec_of(sequence).steps
    roles = sorted({need.name for step in steps for need in step.needs if need.kind == NeedKind.MATERIAL})
    for role in materials or {}:
        if role not in roles:
            raise Refused(
                f"'{role}' is no material of this sequence. It takes: {', '.join(roles) or 'none'}.",
                code="unknown_role",
                field="materials",
                roles=roles,
            )
    with transaction.atomic():
        return [
            apply_sequence(plot=plot, sequence=sequence, year=year, by=by, label=label, materials=materials)
            for plot in plots
        ]
