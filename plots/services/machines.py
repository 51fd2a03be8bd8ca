"""Machines. The log tells every change of whether one works with the holding's instant, so that a report that comes
late can be held against it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Q

from core.clock import now_at
from core.models import Event, Person
from core.services.rows import save_row
from plots.models import Machine


def save_machine(*, row: Machine, by: Person | None, fields: Iterable[str] = ()) -> Machine:
    """Add a machine, or store the named fields of one.

    Raises:
        NotFound, Refused: as `save_row`.
    """
    named = list(fields)
    told = {"now": now_at(row.holding).isoformat()} if {"state", "until"} & set(named) else {}
    save_row(row=row, by=by, fields=named, noted=told)
    return row


def last_state_change(machine: Machine) -> Event | None:
    """The line of the log that says since when the machine is in its state; None if none was ever written."""
    told = Q(change__has_key="state") | Q(change__has_key="until")
    lines = Event.objects.filter(told, holding_id=machine.holding_id, object="machine", object_id=machine.pk)
    return lines.order_by("-id").first()


def instant_of(line: Event) -> datetime:
    """The holding's instant of a change; the log's own where the line does not tell it."""
    said = line.change.get("now")
    return datetime.fromisoformat(said) if said else line.at
