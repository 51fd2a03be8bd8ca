"""Call a season or a branch off, and a branch back on. A person's word is a fact; what the walk derives is none."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from core.models import Person
from core.services.facts import lock_graph, touch
from core.services.rows import log
from jobs.models import Branch, Season


def call_off_season(*, season: Season, by: Person, now: datetime) -> None:
    """Call every job of a season off that is not done; `now` is the holding's. Doing it twice changes nothing."""
    with transaction.atomic():
        lock_graph(season.holding_id)
        if Season.objects.filter(pk=season.pk, called_off_at__isnull=True).update(called_off_at=now):
            log(holding_id=season.holding_id, by=by, verb="called off", row=season, change={})
            touch(season.holding_id, {f"season:{season.pk}"})
    season.refresh_from_db(fields=["called_off_at"])


def call_branch(*, branch: Branch, off: bool, by: Person, now: datetime) -> Branch:
    """Call a branch off, or back on, by a manager's word. Saying what holds already changes nothing."""
    with transaction.atomic():
        lock_graph(branch.holding_id)
        rows = Branch.objects.filter(pk=branch.pk, called_off_at__isnull=off)
        if rows.update(called_off_at=now if off else None):
            verb = "called off" if off else "called back"
            log(holding_id=branch.holding_id, by=by, verb=verb, row=branch, change={})
            touch(branch.holding_id, branch.fact_keys())
    branch.refresh_from_db(fields=["called_off_at"])
    return branch
