"""Stored reckonings to answers: what each job is, where, until when, what holds it, in plain words.

One row of plain data per job, the same for pages, API, commands and reminders. A fixed number of queries whatever the
number of jobs.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from core.models import Holding
from jobs.holds import Hold, HoldKind
from jobs.minutes import floor_minute, local_day
from jobs.models import Assignment, AssignmentState, Job, Need, NeedKind, Prerequisite
from jobs.reckoning import decode
from jobs.reference import reference
from jobs.sentences import STATES, Names, clearing, sentence
from plots.models import Machine, Material

COLUMNS = (
    "id", "title", "operation", "instruction", "duration_min", "acres", "outcomes", "hazards", "details", "version",
    "season_id", "season__label", "season__sequence__key", "plot_id", "plot__name", "plot__property_id",
    "plot__property__name", "plot__property__latitude", "plot__property__longitude", "plot__property__access_notes",
    "plot__property__zone", "branch__name", "called_off_at", "reckoning__state", "reckoning__earliest_start",
    "reckoning__latest_start", "reckoning__latest_finish", "reckoning__slack_min", "reckoning__critical",
    "reckoning__last_chance", "reckoning__look_by", "reckoning__acres_done", "reckoning__acres_left",
    "reckoning__finished_at", "reckoning__holds", "reckoning__detail", "reckoning__changed_at",
)  # fmt: skip


def answer_rows(jobs: Any) -> list[dict[str, Any]]:
    """The columns that answers are made from, of a queryset of jobs, in the order of id."""
    return list(jobs.filter(reckoning__isnull=False).order_by("id").values(*COLUMNS))


def answers(holding: Holding, rows: Sequence[Mapping[str, Any]], now: datetime) -> list[dict[str, Any]]:
    """Plain answers for the rows, in their order."""
    names = names_for(holding, rows, now)
    bring = _bring(holding.pk, rows)
    given = _given(holding.pk, [row["id"] for row in rows])
    return [_answer(holding, row, names, bring, given, now) for row in rows]


def names_for(holding: Holding, rows: Iterable[Mapping[str, Any]], now: datetime) -> Names:
    """The words for every id that the holds of these rows mention."""
    rows = list(rows)
    holds = [decode(row["id"], coded) for row in rows for coded in row["reckoning__holds"]]
    jobs = {pk for hold in holds for pk in _jobs_of(hold)}
    titles = {
        pk: f"{title}, {plot}"
        for pk, title, plot in Job.objects.filter(holding=holding, pk__in=jobs).values_list("pk", "title", "plot__name")
    }
    links = {
        int(hold.rule.split(":")[1])
        for hold in holds
        if hold.rule.startswith("prerequisite:") and hold.rule[13:].isdigit()
    }
    confirms = Prerequisite.objects.filter(pk__in=links).exclude(confirm="").values_list("pk", "confirm")
    return Names(
        zone=holding.zone,
        year=local_day(holding.zone, floor_minute(now)).year,
        jobs=titles,
        machines=dict(Machine.objects.filter(holding=holding).values_list("pk", "name")),
        materials={
            pk: (name, unit)
            for pk, name, unit in Material.objects.filter(holding=holding).values_list("pk", "name", "unit")
        },
        observations=reference().observations,
        confirms={f"prerequisite:{pk}": kind for pk, kind in confirms},
    )


def _jobs_of(hold: Hold) -> set[int]:
    found = {hold.inputs.get(name) for name in ("predecessor", "successor", "started")} | {hold.clears.job}
    return {pk for pk in found if isinstance(pk, int)} | set(hold.inputs.get("or", ()))


def _answer(
    holding: Holding,
    row: Mapping[str, Any],
    names: Names,
    bring: Mapping[int, dict[str, Any]],
    given: Mapping[int, list[dict[str, Any]]],
    now: datetime,
) -> dict[str, Any]:
    operation = reference().operations.get(row["operation"])
    hazards = list(dict.fromkeys([*(operation.hazards if operation else ()), *row["hazards"]]))
    slack, start_by = row["reckoning__slack_min"], row["reckoning__latest_start"]
    holds = [_hold(decode(row["id"], coded), names) for coded in row["reckoning__holds"]]
    state = row["reckoning__state"]
    left = row["reckoning__acres_left"]
    share = left / row["acres"] if row["acres"] and left is not None else 1.0
    return {
        "job": row["id"],
        "title": row["title"],
        "operation": row["operation"],
        "operation_name": operation.name if operation else row["operation"],
        "instruction": row["instruction"],
        "plot": {"id": row["plot_id"], "name": row["plot__name"]},
        "property": {
            "id": row["plot__property_id"],
            "name": row["plot__property__name"],
            "latitude": row["plot__property__latitude"],
            "longitude": row["plot__property__longitude"],
            "access": row["plot__property__access_notes"],
        },
        "season": {"id": row["season_id"], "label": row["season__label"], "sequence": row["season__sequence__key"]},
        "branch": row["branch__name"],
        "state": state,
        "state_word": STATES[state],
        "acres": row["acres"],
        "acres_left": left,
        "minutes": round(row["duration_min"] * share),
        "earliest_start": row["reckoning__earliest_start"],
        "latest_start": start_by,
        "start_by": None if start_by is None else local_day(holding.zone, floor_minute(start_by)),
        "last_chance": row["reckoning__last_chance"],
        "look_by": row["reckoning__look_by"],
        "slack_days": None if slack is None else slack // 1440,
        "critical": row["reckoning__critical"],
        "done_at": row["reckoning__finished_at"] if state == "done" else None,
        "holds": holds,
        "bring": bring.get(row["id"], {"machines": [], "materials": [], "skills": []}),
        "least_crew": row["details"].get("least_crew", operation.least_crew if operation else 1),
        "assigned": given.get(row["id"], []),
        "outcomes": row["outcomes"],
        "cautions": cautions(hazards),
        "weather": bool(operation and operation.weather),
        "deadline_sentence": deadline_sentence(row, names, now),
        "version": row["version"],
    }


def _hold(hold: Hold, names: Names) -> dict[str, Any]:
    known = reference().sources.get(hold.source)
    return {
        "kind": hold.kind.value,
        "sentence": sentence(hold, names),
        "clears": clearing(hold, names),
        "seen": names.confirms.get(hold.rule, "") if hold.kind is HoldKind.LOOK else "",
        "clears_at": None if hold.clears.at is None else names.instant(hold.clears.at),
        "rule": hold.rule,
        "source": hold.source,
        "source_title": known.title if known else "",
        "worth": known.worth if known else "",
    }


def deadline_sentence(row: Mapping[str, Any], names: Names, now: datetime) -> str:
    """Until when it is not too late, or that it is."""
    latest = row["reckoning__latest_start"]
    if row["reckoning__state"] in ("done", "called_off"):
        return ""
    if latest is None:
        return "No deadline."
    day = names.day(floor_minute(latest))
    if row["reckoning__state"] == "lapsed":
        return f"Too late: it had to start by {day}."
    return f"Start by {day}."


def cautions(hazards: Iterable[str]) -> list[dict[str, Any]]:
    """For each hazard the usual cautions and the line that says who decides. Nothing here is permission."""
    known = reference().cautions
    return [
        {"hazard": hazard, "lines": list(known[hazard].lines), "decides": known[hazard].decides}
        for hazard in hazards
        if hazard in known
    ]


def _bring(holding_id: int, rows: Iterable[Mapping[str, Any]]) -> dict[int, dict[str, Any]]:
    """Machines, materials with amounts for what is left to do, and skills, by job."""
    left = {row["id"]: row["reckoning__acres_left"] for row in rows}
    found: dict[int, dict[str, Any]] = defaultdict(lambda: {"machines": [], "materials": [], "skills": []})
    needs = Need.objects.filter(holding_id=holding_id, job_id__in=left).order_by("id")
    columns = (
        "job_id", "kind", "name", "machine__name", "material__name", "material__unit", "rate_per_acre", "amount",
    )  # fmt: skip
    for job, kind, name, machine, material, unit, rate, amount in needs.values_list(*columns):
        if kind == NeedKind.MACHINE:
            found[job]["machines"].append(machine or name.replace("_", " "))
        elif kind == NeedKind.SKILL:
            found[job]["skills"].append(name)
        else:
            much = amount if amount is not None else (rate * left[job] if rate and left[job] else None)
            found[job]["materials"].append(
                {"name": material or name, "amount": None if much is None else round(much, 2), "unit": unit or ""}
            )
    return dict(found)


def _given(holding_id: int, jobs: Iterable[int]) -> dict[int, list[dict[str, Any]]]:
    found: dict[int, list[dict[str, Any]]] = defaultdict(list)
    rows = Assignment.objects.filter(holding_id=holding_id, job_id__in=list(jobs), state=AssignmentState.ACTIVE)
    for pk, job, person, crew, day, starts, ends in rows.order_by("id").values_list(
        "id", "job_id", "person__name", "crew__name", "day", "starts", "ends"
    ):
        found[job].append({"id": pk, "to": person or crew, "day": day, "from": starts, "until": ends})
    return found


def week_ahead(now: datetime) -> datetime:
    """The instant until which a job that opens is listed among the next ones."""
    return now + timedelta(days=7)
