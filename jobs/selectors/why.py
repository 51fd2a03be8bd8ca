"""Why a job stands as it does: its dates, what holds it, the chain behind its earliest start, what is left to do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from core.models import Graph, Holding
from jobs.amounts import amount, span
from jobs.holds import HoldKind
from jobs.minutes import floor_minute, instant, local_day
from jobs.models import Branch, Job, JobState, LagUnit, LinkRelation, Prerequisite
from jobs.reckoning import decode
from jobs.reference import reference
from jobs.selectors.answers import answer_rows, answers, names_for
from jobs.sentences import Names, sentence

ENDS = {
    LinkRelation.FINISH_START: ("is done", "begins"),
    LinkRelation.START_START: ("is begun", "begins"),
    LinkRelation.FINISH_FINISH: ("is done", "is done"),
    LinkRelation.START_FINISH: ("is begun", "is done"),
}
_SOURCE = ("state", "finished_at", "earliest_start")


def why(holding: Holding, job: Job, now: datetime) -> dict[str, Any] | None:
    """All that is known of the reasons behind a job's state and dates; None while no walk has reckoned it yet.

    A fixed number of queries whatever the length of the chain."""
    rows = answer_rows(Job.objects.filter(pk=job.pk))
    if not rows:
        return None
    row = rows[0]
    answer = answers(holding, rows, now)[0]
    detail, names = row["reckoning__detail"], Names(holding.zone, local_day(holding.zone, floor_minute(now)).year)
    lost = detail.get("too_late")
    parts = detail.get("parts", ())
    clocks = [pk for part in parts for pk, _ in part.get("over", ())]
    links = _links(holding.pk, [*detail.get("chain", ()), *_arcs_of(lost), *clocks])
    if any(arc not in links for arc in detail.get("chain", ())):
        detail = {**detail, "chain": ()}  # a link left since: the walk that follows says it anew
    behind, source = _walked(job.pk, [links[arc] for arc in reversed(detail.get("chain", ()))], back=True)
    coded = row["reckoning__holds"]
    graph = Graph.objects.get(pk=holding.pk)
    return {
        **{name: answer[name] for name in ("job", "title", "plot", "property", "branch", "state", "state_word")},
        **{name: answer[name] for name in ("earliest_start", "latest_start", "start_by", "slack_days", "critical")},
        "latest_finish": row["reckoning__latest_finish"],
        "deadline_sentence": answer["deadline_sentence"],
        "last_chance": answer["last_chance"],
        "last_chance_sentence": _last_chance(answer["last_chance"], names),
        "look_by": answer["look_by"],
        "look_by_sentence": _look_by(answer["look_by"], names),
        "holds": [
            {**hold, "inputs": dict(coded[place].get("inputs", {}))} for place, hold in enumerate(answer["holds"])
        ],
        "chain": behind,
        "begins": _begins(holding, source, now, names),
        "too_late": None if lost is None else _too_late(holding.pk, row, links, behind, now),
        "call_by": _call_by(answer),
        "parts": [_part(part, links, names) for part in parts],
        "notes": _notes(detail, names) + _set_aside(holding, detail, now),
        "cautions": answer["cautions"],
        "reckoned": {
            "at": row["reckoning__changed_at"],
            "walked_at": graph.walked_at,
            "facts_version": graph.facts_version,
            "walked_version": graph.walked_version,
        },
    }


def _set_aside(holding: Holding, detail: Mapping[str, Any], now: datetime) -> list[str]:
    """The verdicts against which a written reason stands: said all the same."""
    coded = detail.get("set_aside", ())
    names = names_for(holding, [{"reckoning__holds": coded}], now) if coded else None
    return [f"Set aside in writing: {sentence(decode(0, hold), names)}" for hold in coded] if names else []


def _links(holding_id: int, arcs: Sequence[int]) -> dict[int, Prerequisite]:
    rows = Prerequisite.objects.filter(holding_id=holding_id, pk__in=set(arcs))
    return rows.select_related("predecessor__plot", "successor__plot").in_bulk()


def _arcs_of(lost: Mapping[str, Any] | None) -> list[int]:
    if lost is None:
        return []
    ways = [way["id"] for way in lost["ways_out"] if way["kind"] == "lag"]
    return [arc for arc in [*lost["chain"], lost["broken"], *ways] if arc is not None]


def _walked(job: int, links: Sequence[Prerequisite], *, back: bool) -> tuple[list[dict[str, Any]], int]:
    """(links in the order they are met from a job, the job where they end).

    Going back, a link met from its predecessor is a longest wait: what follows must come soon, and keeps this one back.
    Going on, one met from its successor is."""
    told, at = [], job
    for link in links:
        towards_successor = link.predecessor_id == at
        told.append(_step(link, longest=towards_successor if back else not towards_successor))
        at = link.successor_id if towards_successor else link.predecessor_id
    return told, at


def _begins(holding: Holding, job: int, now: datetime, names: Names) -> str:
    """What the chain behind an earliest start ends at: a fact, days that are yet to come, or today."""
    columns = ("title", "plot__name", "plot__property__zone", *(f"reckoning__{name}" for name in _SOURCE))
    row = Job.objects.values(*columns).get(pk=job)
    title, earliest = f"{row['title']}, {row['plot__name']}", row["reckoning__earliest_start"]
    state, finished = row["reckoning__state"], row["reckoning__finished_at"]
    if state == JobState.DONE and finished is not None:
        return f"It counts from a fact: {title} was done on {names.day(floor_minute(finished))}."
    if state == JobState.UNDER_WAY:
        return f"It counts from a fact: {title} is begun."
    if earliest is None:
        return f"No day is known on which {title} can begin."
    if earliest > now:
        return f"{title} cannot begin before {names.day(floor_minute(earliest))}: its own days or a closure say so."
    return f"Nothing keeps {title} from beginning today."


def _step(link: Prerequisite, *, longest: bool) -> dict[str, Any]:
    key = (link.max_source or link.source) if longest else link.source
    source = reference().sources.get(key)
    worth = ((link.max_worth or link.worth) if longest else link.worth) or (source.worth if source else "")
    return {
        "prerequisite": link.pk,
        "predecessor": {"id": link.predecessor_id, "title": _title(link.predecessor)},
        "successor": {"id": link.successor_id, "title": _title(link.successor)},
        "sentence": longest_sentence(link) if longest else shortest_sentence(link),
        "source": key,
        "source_title": source.title if source else "",
        "worth": worth,
        "note": link.note,
    }


def _title(job: Job) -> str:
    return f"{job.title}, {job.plot.name}"


def shortest_sentence(link: Prerequisite) -> str:
    """ "Till, Ridge begins 10 days or more after Spray, Ridge is done." """
    after, then = ENDS[LinkRelation(link.relation)]
    first, second = _title(link.predecessor), _title(link.successor)
    if not link.min_amount:
        return f"{second} {then} after {first} {after}."
    if link.min_amount < 0:
        return f"{second} {then} at most {amount(-link.min_amount, link.min_unit)} before {first} {after}."
    wait = amount(link.min_amount, link.min_unit)
    if link.min_unit == LagUnit.RAIN_IN:
        rest = f" and {amount(link.min_then_days, 'more days')}" if link.min_then_days else ""
        return f"{second} {then} once {wait}{rest} came after {first} {after}."
    counted = f" ({link.degree_days} F)" if link.min_unit == LagUnit.DEGREE_DAYS and link.degree_days else ""
    kind = reference().observations.get(link.confirm, link.confirm)
    look = f", and a look says that {kind}" if link.confirm else ""
    return f"{second} {then} {wait}{counted} or more after {first} {after}{look}."


def longest_sentence(link: Prerequisite) -> str:
    """ "Plant, Ridge begins at most 14 days after Spray, Ridge is done, so the first waits for the second." """
    after, then = ENDS[LinkRelation(link.relation)]
    first, second = _title(link.predecessor), _title(link.successor)
    if link.max_amount is None:
        return shortest_sentence(link)
    wait = amount(link.max_amount, link.max_unit)
    return f"{second} {then} at most {wait} after {first} {after}, so the first waits for the second."


def _last_chance(instant: datetime | None, names: Names) -> str:
    return "" if instant is None else f"Until {names.instant(floor_minute(instant))} it is not too late to begin."


def _look_by(instant: datetime | None, names: Names) -> str:
    return (
        "" if instant is None else f"Look by {names.day(floor_minute(instant))}, or what it may call for is too late."
    )


def _call_by(answer: Mapping[str, Any]) -> str:
    """Until when another machine has to be there, where one is down or away and nobody said until when."""
    held = any(hold["kind"] == HoldKind.MACHINE and hold["clears_at"] is None for hold in answer["holds"])
    if not held:
        return ""
    left = "The rest of it" if answer["state"] == JobState.UNDER_WAY else "It"
    when = answer["deadline_sentence"] if answer["latest_start"] else f"{left} has no deadline."
    return f"{left} waits for a machine: have it repaired, or borrow or hire one. {when}"


def _part(part: Mapping[str, Any], links: Mapping[int, Prerequisite], names: Names) -> dict[str, Any]:
    """What was done of a job at one time, and when the waits that count from it are over."""
    clocks = [
        {"prerequisite": pk, "over": instant(at), "sentence": f"{_title(links[pk].successor)}: {names.instant(at)}."}
        for pk, at in part.get("over", ())
        if pk in links
    ]
    return {"acres": part["acres"], "done_at": instant(part["at"]), "clocks": clocks}


def _notes(detail: Mapping[str, Any], names: Names) -> list[str]:
    found = [f"{part['acres']:g} acres were done on {names.day(part['at'])}." for part in detail.get("parts", ())]
    if detail.get("closed_by"):
        found.append(f"What it belongs to is closed by what was sprayed: {detail['closed_by']}. The label decides.")
    if detail.get("conflict"):
        found.append("Another way was done beside this one, though only one of them was called for.")
    if detail.get("out_of_order"):
        found.append("It was done out of order: earlier than a wait before it allowed.")
    return found


def _too_late(
    holding_id: int,
    row: Mapping[str, Any],
    links: Mapping[int, Prerequisite],
    behind: Sequence[dict[str, Any]],
    now: datetime,
) -> dict[str, Any]:
    """What broke, by how much it is short, and what could still follow. The chain goes from its source to its sink."""
    lost = row["reckoning__detail"]["too_late"]
    latest, earliest = row["reckoning__latest_start"], row["reckoning__earliest_start"]
    short = None
    if latest is not None:
        needed = max(earliest, now) if earliest is not None else now
        short = max(0, floor_minute(needed) - floor_minute(latest))
    further = [links[arc] for arc in lost["chain"][len(behind) :] if arc in links]
    steps = [*reversed(behind), *_walked(row["id"], further, back=False)[0]]
    broken = next((step for step in steps if step["prerequisite"] == lost["broken"]), None)
    much = f" {span(short)} are missing." if short else ""
    broke = "It was not begun by its latest start." if broken is None else f"It broke here: {broken['sentence']}"
    return {
        "sentence": broke + much,
        "short_by_minutes": short,
        "broken": broken,
        "chain": steps,
        "ways_out": _ways_out(holding_id, lost["ways_out"], links, short if earliest is not None else None),
    }


def _ways_out(
    holding_id: int, ways: Sequence[Mapping[str, Any]], links: Mapping[int, Prerequisite], short: int | None
) -> list[dict[str, Any]]:
    branches = Branch.objects.filter(
        holding_id=holding_id, pk__in={way["id"] for way in ways if way["kind"] in ("branch", "outcome")}
    )
    named = branches.select_related("opened_by__plot").in_bulk()
    found = []
    for way in ways:
        thing = links.get(way["id"]) if way["kind"] == "lag" else named.get(way["id"])
        if thing is not None:
            change = short if way["kind"] == "lag" else None
            told = {"kind": way["kind"], "id": way["id"], "change_min": change}
            found.append({**told, "sentence": _way(way["kind"], thing, change)})
    return found


def _way(kind: str, thing: Prerequisite | Branch, change_min: int | None) -> str:
    if isinstance(thing, Prerequisite):
        change = "" if change_min is None else f" by {span(change_min)}"
        return f"This wait is common practice, and a manager may change it{change}: {shortest_sentence(thing)}"
    if kind == "branch" or thing.opened_by is None:
        return f"Still in time: {thing}."
    outcomes = " or ".join(outcome.replace("_", " ") for outcome in thing.outcomes) or "another outcome"
    return f"{thing} would open if {_title(thing.opened_by)} comes out as {outcomes}."
