"""Stored reckonings to answers: what each job is, where, until when, what holds it, in plain words.

One row of plain data per job, the same for pages, API, commands and reminders. A fixed number of queries up to 500
jobs, and names are looked up only for what the holds of these jobs mention.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from typing import Any, NamedTuple

from django.db.models import OuterRef, Subquery

from core.models import Holding
from core.selectors.prepared import Given, Prepared, among, listed
from jobs.holds import Hold, HoldKind
from jobs.minutes import floor_minute, instant, local_day
from jobs.models import Assignment, AssignmentState, Job, Need, Prerequisite
from jobs.reckoning import decode
from jobs.reference import reference
from jobs.selectors.window_words import window_told
from jobs.sentences import STATES, Names, clearing, sentence
from plots.models import Machine, Material

SHOWN = (
    "id", "title", "operation", "instruction", "duration_min", "acres", "outcomes", "hazards", "details", "version",
    "season_id", "season__label", "season__sequence__key", "plot_id", "plot__name", "plot__property_id",
    "plot__property__name", "plot__property__latitude", "plot__property__longitude", "plot__property__access_notes",
    "plot__property__zone", "plot__property__tenure_ends", "branch__name", "reckoning__state",
    "reckoning__earliest_start", "reckoning__latest_start", "reckoning__slack_min", "reckoning__critical",
    "reckoning__last_chance", "reckoning__look_by", "reckoning__acres_left", "reckoning__finished_at",
    "reckoning__holds", "reckoning__windows",
)  # fmt: skip
"""What answers are made from."""
COLUMNS = (
    *SHOWN,
    "called_off_at",
    "reckoning__latest_finish",
    "reckoning__acres_done",
    "reckoning__detail",
    "reckoning__changed_at",
)
"""The same with the reasons behind them."""


def answer_rows(jobs: Any) -> list[dict[str, Any]]:
    """The columns that answers are made from, of a queryset of jobs, in the order of id."""
    return list(jobs.filter(reckoning__isnull=False).order_by("id").values(*COLUMNS))


def answers(holding: Holding, rows: Sequence[Mapping[str, Any]], now: datetime) -> list[dict[str, Any]]:
    """Plain answers for the rows, in their order. Callers bound how many: every row is made into sentences."""
    names = names_for(holding, rows, now)
    taken = along(holding.pk, rows)
    minute = floor_minute(now)
    return [_answer(holding.zone, row, names, *taken[row["id"]], minute) for row in rows]


def names_for(holding: Holding, rows: Iterable[Mapping[str, Any]], now: datetime) -> Names:
    """The words for every id that the holds of these rows mention."""
    holds = [coded for row in rows for coded in row["reckoning__holds"]]
    year = local_day(holding.zone, floor_minute(now)).year
    if not holds:
        return Names(zone=holding.zone, year=year)
    inputs = [coded.get("inputs", {}) for coded in holds]
    jobs = {pk for coded in holds for pk in _jobs_of(coded)}
    links = {int(coded["rule"][13:]) for coded in holds if _LINK(coded["rule"])}
    machines = {told["machine"] for told in inputs if "machine" in told}
    materials = {told["material"] for told in inputs if "material" in told}
    return Names(
        zone=holding.zone,
        year=year,
        jobs={pk: f"{title}, {plot}" for pk, title, plot in _TITLES.rows(holding=holding.pk, ids=sorted(jobs))},
        machines=dict(_MACHINES.rows(holding=holding.pk, ids=sorted(machines))),
        materials={pk: (name, unit) for pk, name, unit in _MATERIALS.rows(holding=holding.pk, ids=sorted(materials))},
        observations=reference().observations,
        confirms={f"prerequisite:{pk}": kind for pk, kind in _CONFIRMS.rows(holding=holding.pk, ids=sorted(links))},
    )


_LINK = re.compile(r"prerequisite:[0-9]+\Z").match


def _named(model: Any, *columns: str) -> Prepared:
    """These columns of the rows of a holding whose ids are given."""
    return Prepared(
        lambda: (
            model.objects.filter(among("id", "ids"), holding_id=Given("holding")).order_by("id").values_list(*columns)
        )
    )


_TITLES = _named(Job, "id", "title", "plot__name")
_MACHINES = _named(Machine, "id", "name")
_MATERIALS = _named(Material, "id", "name", "unit")
_CONFIRMS = _named(Prerequisite, "id", "confirm")


def _jobs_of(coded: Mapping[str, Any]) -> set[int]:
    inputs = coded.get("inputs", {})
    found = {inputs.get(name) for name in ("predecessor", "successor", "started", "spray", "other")} | {
        coded["clears"].get("job")
    }
    return {pk for pk in found if isinstance(pk, int)} | set(inputs.get("or", ()))


class _Work(NamedTuple):
    """What the shipped reference data say of a field operation with these hazards of its own."""

    name: str
    least_crew: int
    weather: bool
    cautions: tuple[dict[str, Any], ...]


@lru_cache(maxsize=1_024)
def _work(operation: str, hazards: tuple[str, ...]) -> _Work:
    known = reference().operations.get(operation)
    if known is None:
        return _Work(operation, 1, False, tuple(cautions(dict.fromkeys(hazards))))
    everything = dict.fromkeys([*known.hazards, *hazards])
    return _Work(known.name, known.least_crew, bool(known.weather), tuple(cautions(everything)))


def weather_decides(operation: str) -> bool:
    """Whether the reference data let the weather decide in which hours an operation may go."""
    return _work(operation, ()).weather


def minutes_left(row: Mapping[str, Any]) -> int:
    """Minutes of work that are left of the job of a row."""
    left, acres = row["reckoning__acres_left"], row["acres"]
    share: float = left / acres if acres and left is not None else 1.0
    return round(int(row["duration_min"]) * share)


def _answer(
    zone: str, row: Mapping[str, Any], names: Names, needs: dict[str, Any], given: list[dict[str, Any]], minute: int
) -> dict[str, Any]:
    return {**lasting(zone, row, names, needs, given), **passing(zone, row, names, minute)}


def passing(zone: str, row: Mapping[str, Any], names: Names, minute: int) -> dict[str, Any]:
    """What of an answer is more than its row says: it names other rows, or goes by the clock."""
    return {
        "holds": [_hold(decode(row["id"], coded), names) for coded in row["reckoning__holds"]],
        "window": window_told(row, row["plot__property__zone"] or zone, minute),
    }


def lasting(
    zone: str, row: Mapping[str, Any], names: Names, needs: dict[str, Any], given: list[dict[str, Any]]
) -> dict[str, Any]:
    """What of an answer follows from its row alone, with what goes along; of `names` zone and year."""
    work = _work(row["operation"], tuple(row["hazards"]))
    slack, start_by = row["reckoning__slack_min"], row["reckoning__latest_start"]
    state = row["reckoning__state"]
    return {
        "job": row["id"],
        "title": row["title"],
        "operation": row["operation"],
        "operation_name": work.name,
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
        "acres_left": row["reckoning__acres_left"],
        "minutes": minutes_left(row),
        "earliest_start": row["reckoning__earliest_start"],
        "opens_at": _opens(row) if state == "held" else None,
        "latest_start": start_by,
        "start_by": None if start_by is None else local_day(zone, floor_minute(start_by)),
        "last_chance": row["reckoning__last_chance"],
        "look_by": row["reckoning__look_by"],
        "slack_days": None if slack is None else slack // 1440,
        "critical": row["reckoning__critical"],
        "done_at": row["reckoning__finished_at"] if state == "done" else None,
        "bring": needs,
        "least_crew": row["details"].get("least_crew", work.least_crew),
        "assigned": given,
        "outcomes": list(row["outcomes"]),
        "cautions": list(work.cautions),
        "weather": work.weather,
        "deadline_sentence": deadline_sentence(row, names),
        "version": row["version"],
    }


def _opens(row: Mapping[str, Any]) -> datetime | None:
    """When a held job opens by itself: not before its earliest start, nor before the last of what holds it clears; None
    where anything of it does not clear by the clock."""
    at = [coded["clears"].get("at") if coded["clears"]["how"] == "at" else None for coded in row["reckoning__holds"]]
    start = row["reckoning__earliest_start"]
    clears = [instant(minute) for minute in at if minute is not None]
    known = [moment for moment in (start, *clears) if moment is not None]
    return max(known) if start is not None and None not in at else None


SEEN_BY_A_LOOK = {HoldKind.STAND: "stand"}
"""What somebody saw who says so at a hold that any look at the plot clears."""


def _hold(hold: Hold, names: Names) -> dict[str, Any]:
    known = reference().sources.get(hold.source)
    return {
        "kind": hold.kind.value,
        "sentence": sentence(hold, names),
        "clears": clearing(hold, names),
        "seen": names.confirms.get(hold.rule, "") if hold.kind is HoldKind.LOOK else SEEN_BY_A_LOOK.get(hold.kind, ""),
        "clears_at": None if hold.clears.at is None else names.instant(hold.clears.at),
        "rule": hold.rule,
        "source": hold.source,
        "source_title": known.title if known else "",
        "worth": known.worth if known else "",
    }


def deadline_sentence(row: Mapping[str, Any], names: Names) -> str:
    """Until when it is not too late, or that it is."""
    latest = row["reckoning__latest_start"]
    if row["reckoning__state"] in ("done", "called_off"):
        return ""
    if latest is None:
        return "No deadline."
    day = names.day(floor_minute(latest))
    if row["reckoning__state"] == "lapsed":
        return f"Too late: it had to start by {day}."
    if row["reckoning__state"] == "under_way":
        return f"Go on with it by {day}."
    opens = _opens(row) if row["reckoning__state"] == "held" else None
    if opens is not None and opens > latest:
        then = names.day(floor_minute(opens))
        return f"Start by {day}; what holds it ends by itself on {then}, too late. Another way has to be found."
    return f"Start by {day}."


def cautions(hazards: Iterable[str]) -> list[dict[str, Any]]:
    """For each hazard the usual cautions and the line that says who decides. Nothing here is permission."""
    known = reference().cautions
    return [
        {"hazard": hazard, "lines": list(known[hazard].lines), "decides": known[hazard].decides}
        for hazard in hazards
        if hazard in known
    ]


def taken() -> tuple[Subquery, Subquery]:
    """What a job needs and whom it is given to, as two columns of a query of jobs."""
    needs = Need.objects.filter(job_id=OuterRef("pk"))
    given = Assignment.objects.filter(job_id=OuterRef("pk"), state=AssignmentState.ACTIVE)
    return (
        listed(
            needs, "id", "kind", "name", "machine__name", "material__name", "material__unit", "rate_per_acre", "amount"
        ),
        listed(given, "id", "person__name", "crew__name", "day", "starts", "ends"),
    )


TAKEN = ("needs", "given")
"""The names of the two columns in rows that carry them."""
_ALONG = Prepared(
    lambda: Job.objects.filter(among("id", "jobs"), holding_id=Given("holding")).values_list("id", *taken())
)


def along(holding_id: int, rows: Iterable[Mapping[str, Any]]) -> dict[int, tuple[dict[str, Any], list[dict[str, Any]]]]:
    """By job what to bring and whom it is given to: machines, materials with amounts for what is left to do, and
    skills; and each assignment that stands. One query for the rows that do not carry it."""
    left = {row["id"]: row["reckoning__acres_left"] for row in rows}
    told = [(row["id"], row["needs"], row["given"]) for row in rows if "given" in row]
    told += _ALONG.rows(holding=holding_id, jobs=[row["id"] for row in rows if "given" not in row])
    return {job: along_of(needs, given, left[job]) for job, needs, given in told}


def along_of(needs: Any, given: Any, left: float | None) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """What to bring for so many acres left and whom a job is given to, from the two columns of `taken`."""
    return _bring(sorted(needs or ()), left), [_given(*one) for one in sorted(given or ())]


def bring_of(holding_id: int, rows: Iterable[Mapping[str, Any]]) -> dict[int, dict[str, Any]]:
    """By job what to bring."""
    return {job: bring for job, (bring, _) in along(holding_id, rows).items()}


def _bring(needs: Iterable[Sequence[Any]], left: float | None) -> dict[str, Any]:
    machines: list[str] = []
    materials: list[dict[str, Any]] = []
    skills: list[str] = []
    for _, kind, name, machine, material, unit, rate, amount in needs:
        if kind == "machine":
            machines.append(machine or name.replace("_", " "))
        elif kind == "skill":
            skills.append(name)
        else:
            much = amount if amount is not None else (rate * left if rate and left else None)
            told = None if much is None else round(float(much), 2)
            materials.append({"name": material or name, "amount": told, "unit": unit or ""})
    return {"machines": machines, "materials": materials, "skills": skills}


def _given(
    pk: int, person: str | None, crew: str | None, day: str | None, starts: str | None, ends: str | None
) -> dict[str, Any]:
    return {
        "id": pk,
        "to": person or crew,
        "day": day and date.fromisoformat(day),
        "from": starts and time.fromisoformat(starts),
        "until": ends and time.fromisoformat(ends),
    }


def week_ahead(now: datetime) -> datetime:
    """The instant until which a job that opens is listed among the next ones."""
    return now + timedelta(days=7)
