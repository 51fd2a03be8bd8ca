"""Store or remove what a job takes along: later seasons wait for a material that is sprayed."""

from __future__ import annotations

from collections.abc import Collection

from django.db import transaction

from core.models import Person
from core.services.rows import remove_row, save_row
from jobs.models import Job, Need, NeedKind
from jobs.services.across import settle, ties_after


def save_need(*, need: Need, by: Person | None, fields: Collection[str]) -> Need:
    """Store a need, and tie its job to jobs of other seasons that wait for what it now sprays.

    A tie that only the material before asked for goes, unless the job was begun or somebody changed the tie by hand.

    Raises:
        NotFound: the need is gone, or names something of another holding.
        Refused: a rule of the table, or a tie would close a circle or contradict others; nothing is stored then.
    """
    with transaction.atomic():
        save_row(row=need, by=by, fields=fields)
        if need.kind == NeedKind.MATERIAL:
            _tie_anew(need.job, by)
    return need


def remove_need(*, need: Need, by: Person | None) -> None:
    """Remove a need, and what only its material had tied, as `save_need` does.

    Raises:
        NotFound: it is gone already.
    """
    job = need.job
    with transaction.atomic():
        remove_row(row=need, by=by)
        if need.kind == NeedKind.MATERIAL:
            _tie_anew(job, by)


def _tie_anew(job: Job, by: Person | None) -> None:
    ties = ties_after(job)
    if ties.missing or ties.changed or ties.stale:
        settle(holding_id=job.holding_id, ties=ties, by=by)
