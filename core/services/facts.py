"""The one door by which a changed fact wakes the walk."""

from collections.abc import Iterable

from django.db import connection, transaction
from django.db.models import F
from django.dispatch import Signal

from core.models import Graph, Touched

facts_touched = Signal()
"""Sent after commit with `holding_id`; whoever listens may ring a doorbell, and nothing is lost if nobody does."""

ALL = "all"


def lock_graph(holding_id: int) -> Graph:
    """Lock the holding's graph row until the transaction ends: the first statement of every edge write.

    On SQLite the transaction itself is the lock (BEGIN IMMEDIATE)."""
    return Graph.objects.select_for_update(no_key=True).get(holding_id=holding_id)


def touch(holding_id: int, keys: Iterable[str]) -> int:
    """Say that facts of these keys changed, in the transaction that changes them. Returns the new version of the facts.

    An empty `keys` bumps the version without asking for any component to be walked."""
    with transaction.atomic():
        Graph.objects.filter(holding_id=holding_id).update(facts_version=F("facts_version") + 1)
        version: int = Graph.objects.values_list("facts_version", flat=True).get(holding_id=holding_id)
        Touched.objects.bulk_create(
            Touched(holding_id=holding_id, facts_version=version, key=key) for key in sorted(set(keys))
        )
        _ring_once(holding_id)
        return version


def _ring_once(holding_id: int) -> None:
    """Ring after commit, once a transaction however many facts it changes."""
    # Each entry is (savepoints, hook, robust).
    if any(getattr(entry[1], "holding_id", None) == holding_id for entry in connection.run_on_commit):
        return

    def ring() -> None:
        facts_touched.send(sender=Graph, holding_id=holding_id)

    ring.holding_id = holding_id  # type: ignore[attr-defined]
    transaction.on_commit(ring, robust=True)
