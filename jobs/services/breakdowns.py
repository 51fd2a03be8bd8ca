"""What a report means for machines: one that stopped a job is down where it stands, until the report is taken back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from core.models import Event, Person
from core.services.rows import log
from jobs.models import Job, Need, NeedKind, Report, ReportKind
from plots.models import Machine, MachineState, Property
from plots.services.machines import instant_of, last_state_change

MACHINE = "machine"
"""The reason of a report that a machine stopped the job."""


@dataclass(frozen=True, slots=True)
class Breakdown:
    """What follows from a report: `down` goes down, having been as `was` tells; `back` gets its former state again."""

    down: Machine | None = None
    was: dict[str, Any] | None = None
    back: tuple[Machine, Event] | None = None
    clashes: tuple[str, ...] = ()


def weigh(report: Report, job: Job | None) -> Breakdown:
    """Decide what a report, not yet stored, does to machines. Call it under the graph's lock.

    A machine whose state was changed after the report happened stays as it is. A corrected or withdrawn report gives
    the machine that it put down its former state back, unless that was changed since.
    """
    failed, earlier = _failed(report, job), _put_down_by(report)
    back, clashes = None, []
    if earlier is not None:
        machine, line = earlier
        last = last_state_change(machine)
        if last is not None and last.pk == line.pk:
            if failed is not None and failed.pk == machine.pk:
                return Breakdown(down=failed, was=line.change["was"])
            back = earlier
        elif machine.state == MachineState.DOWN:
            clashes.append(f"{machine.name} was changed after that report and stays down. Say so if it works.")
    if failed is not None:
        last = last_state_change(failed)
        if last is not None and instant_of(last) > report.happened_at:
            if failed.state != MachineState.DOWN:
                clashes.append(
                    f"{failed.name} was changed after this happened and stays as it is: {failed.get_state_display()}."
                )
            failed = None
    return Breakdown(down=failed, was=None, back=back, clashes=tuple(clashes))


def apply(found: Breakdown, report: Report) -> set[str]:
    """Write what was weighed, once the report is stored; returns the keys of the facts it changed."""
    keys: set[str] = set()
    if found.back is not None:
        machine, line = found.back
        was = line.change["was"]
        if machine.at_property_id == line.change["at_property"]:
            machine.at_property = Property.objects.filter(pk=was["at_property"]).first()
        machine.state = was["state"]
        machine.until = date.fromisoformat(was["until"]) if was["until"] else None
        keys |= _store(machine, report.person, {"taken_back": report.pk, "now": report.received_at.isoformat()})
    if found.down is not None:
        machine = found.down
        until = machine.until.isoformat() if machine.until else None
        was = {"state": machine.state, "until": until, "at_property": machine.at_property_id}
        machine.state, machine.until, machine.at_property = MachineState.DOWN, None, report.plot.property
        told = {"report": report.pk, "was": found.was or was, "now": report.happened_at.isoformat()}
        keys |= _store(machine, report.person, told)
    return keys


def _store(machine: Machine, by: Person, told: dict[str, Any]) -> set[str]:
    machine.save(update_fields=["state", "until", "at_property"])
    change = {"state": machine.state, "until": machine.until, "at_property": machine.at_property_id} | told
    log(holding_id=machine.holding_id, by=by, verb="changed", row=machine, change=change)
    return machine.fact_keys()


def _failed(report: Report, job: Job | None) -> Machine | None:
    """The machine that stopped the job: the one that is named, else one of the job's kinds, first of those here."""
    if job is None or report.kind != ReportKind.COULD_NOT or report.reason != MACHINE:
        return None
    kinds = Need.objects.filter(job=job, kind=NeedKind.MACHINE).order_by("id").values_list("name", flat=True)
    machines = _locked().filter(holding_id=report.holding_id, kind__in=list(kinds)).order_by("id")
    named = report.payload.get("machine")
    if named is not None:
        machines = machines.filter(pk=named)
    found: Machine | None = machines.filter(at_property_id=report.plot.property_id).first() or machines.first()
    return found


def _put_down_by(report: Report) -> tuple[Machine, Event] | None:
    """The machine that the corrected report put down, with the line of the log that says so."""
    if report.corrects_id is None:
        return None
    lines = Event.objects.filter(holding_id=report.holding_id, object="machine", change__report=report.corrects_id)
    line = lines.order_by("-id").first()
    machine = _locked().filter(pk=line.object_id, holding_id=report.holding_id).first() if line is not None else None
    return (machine, line) if machine is not None and line is not None else None


def _locked() -> Any:
    return Machine.objects.select_for_update(no_key=True, of=("self",))
