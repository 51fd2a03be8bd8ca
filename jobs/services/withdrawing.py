"""Take back a season that was applied by mistake, while nobody has said anything about it."""

from __future__ import annotations

from django.db import transaction

from core.errors import Refused
from core.models import Person
from core.services.facts import lock_graph
from core.services.rows import remove_row
from jobs.amounts import amount
from jobs.models import Observation, Override, Prerequisite, Report, Season, Sheet
from jobs.services.across import settle, spec_of, ties_across


def withdraw_season(*, season: Season, by: Person | None) -> None:
    """Remove a season with its jobs, waits, needs and assignments; other seasons are tied as if it had never stood.

    Raises:
        NotFound: it is gone already.
        Refused: something is stored that must not be lost: a report, something seen, a job's sheet or a written reason
            (`in_use`). Such a season is called off instead, which calls off what is not done and keeps the rest.
    """
    with transaction.atomic():
        lock_graph(season.holding_id)
        kept = _kept(season)
        if kept:
            raise Refused(
                f"{season.label} cannot be withdrawn: {kept} would be lost. Call it off instead: its open jobs are"
                " called off, and what was said stays.",
                code="in_use",
            )
        after = Prerequisite.objects.filter(predecessor__season=season).exclude(successor__season=season)
        seasons = sorted({pk for pk in after.values_list("successor__season", flat=True) if pk is not None})
        remove_row(row=season, by=by, noted={"label": season.label, "plot": season.plot_id})
        others = Season.objects.filter(pk__in=seasons, called_off_at=None, sequence__isnull=False)
        for other in others.select_related("sequence").order_by("id"):
            assert other.sequence is not None
            settle(holding_id=other.holding_id, ties=ties_across(other, spec_of(other.sequence)), by=by)


def _kept(season: Season) -> str:
    """What hangs on the season and must stay, in words; empty where there is nothing."""
    found = {
        "reports": Report.objects.filter(job__season=season).count(),
        "things seen": Observation.objects.filter(season=season).count(),
        "sheets": Sheet.objects.filter(job__season=season).count(),
        "written reasons": Override.objects.filter(job__season=season).count(),
    }
    return ", ".join(amount(count, name) for name, count in found.items() if count)
