"""Compare what is stored with a walk over everything."""

from __future__ import annotations

from core.clock import now_at
from core.models import Graph, Holding
from jobs.minutes import floor_minute
from jobs.reckoning import row_of
from jobs.selectors.facts import load
from jobs.services import saving
from jobs.walk import walk


def differences(holding: Holding) -> list[int]:
    """Jobs whose stored reckoning differs from a whole walk now; none while facts wait for their walk."""
    graph = Graph.objects.get(pk=holding.pk)
    now = now_at(holding)
    if graph.facts_version != graph.walked_version or graph.wake_at is None or now >= graph.wake_at:
        return []
    loaded = load(holding, now)
    stored = saving.stored(holding.pk)
    found = walk(loaded.facts, floor_minute(now))
    rows = {
        job: row_of(result, loaded.facts, loaded.folded[job], loaded.closed_branches.get(loaded.rows[job].branch or 0))
        for job, result in found.results.items()
    }
    return sorted({job for job in rows.keys() | stored.keys() if rows.get(job) != stored.get(job)})
