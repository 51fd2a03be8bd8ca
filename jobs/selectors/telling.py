"""News in words: what to do, where, until when, what to bring, whom to tell first, what to heed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from core.models import Holding
from jobs.amounts import amount
from jobs.hours import minute_at
from jobs.minutes import day_end, day_start, floor_minute, instant, local_day
from jobs.models import Assignment, Job
from jobs.reminder_rules import (
    ASSIGNED,
    LAST_DAY,
    LOOK,
    OPENED,
    OVERDUE,
    STOCK,
    TELL_FIRST,
    WINDOW,
    Intent,
    first_short,
    within,
)
from jobs.selectors.answers import answer_rows, answers, cautions
from jobs.selectors.hearing import Hearing, is_told, tell_rows
from jobs.sentences import Names
from jobs.templatetags.jobs_text import area, bring, duration
from plots.models import Material, TellFirst

FAR = 1 << 40
PILES = {
    OPENED: "opened",
    LAST_DAY: "are near their last day",
    ASSIGNED: "were given out or taken back",
    LOOK: "need a look",
    OVERDUE: "wait for a report",
    WINDOW: "have hours ahead",
}
Item = dict[str, Any]


def items(holding: Holding, intents: Sequence[Intent], hearing: Hearing, now: datetime) -> dict[Intent, Item]:
    """By piece of news: what `core.evening_text` makes messages of. A fixed number of queries up to 500 jobs."""
    rows = answer_rows(Job.objects.filter(pk__in={intent.job for intent in intents if intent.job}))
    told = {answer["job"]: answer for answer in answers(holding, rows, now)}
    zones = {row["id"]: row["plot__property__zone"] or holding.zone for row in rows}
    tells = tell_rows({answer["property"]["id"] for answer in told.values()})
    today = local_day(holding.zone, floor_minute(now))
    names = Names(holding.zone, today.year)
    about = {intent.about for intent in intents if intent.kind in (ASSIGNED, OVERDUE, TELL_FIRST) and intent.about}
    given = Assignment.objects.select_related("person", "crew").in_bulk(about)
    materials = Material.objects.in_bulk({intent.about for intent in intents if intent.kind == STOCK})
    found: dict[Intent, Item] = {}
    for intent in intents:
        if intent.kind == STOCK:
            found[intent] = _short(materials[intent.about], hearing, names, today)
        elif intent.job in told:
            answer, zone = told[intent.job], zones[intent.job]
            outsiders = _outsiders(tells.get(answer["property"]["id"], ()), answer)
            item = _base(holding, answer, outsiders)
            item["news"] = _news(intent, answer, hearing, given.get(intent.about), outsiders, names, zone)
            item["pile"] = PILES.get(intent.kind, "have news")
            item["why"] = _why(intent, answer)
            if intent.kind == LOOK:  # somebody walks there and looks; the work itself is not to be done yet
                item |= {"lines": item["lines"][:1], "cautions": cautions(["lone_work"]), "plain": True}
            if intent.kind == OVERDUE:
                item["lines"] = []
            if intent.kind == OPENED and intent.about:
                item["lines"].append(NOBODY_FITS)
            row = given.get(intent.about)
            if intent.kind == ASSIGNED and row is not None and row.day is not None and intent.basis.startswith("given"):
                item["events"] = [_event(row, item, answer, zone)]
            found[intent] = item
    return found


NOBODY_FITS = (
    "Nobody who looks after this place has free hours listed for it in the next seven days and before its last start, "
    "together with the certificate it needs. Give it to somebody by hand."
)


def _base(holding: Holding, answer: Mapping[str, Any], outsiders: Sequence[TellFirst]) -> Item:
    """What every piece of news about a job carries, whatever the news is."""
    left, least = area(answer["acres_left"], holding), answer["least_crew"]
    lines = [f"{answer['deadline_sentence']} Takes {duration(answer['minutes'])}{f' for {left}' if left else ''}."]
    lines.append(answer["instruction"])
    needed = bring(answer["bring"])
    if needed:
        lines.append(f"Bring: {needed}.")
    if least > 1:
        lines.append(f"At least {least} people.")
    if outsiders:
        lines.append(f"Tell before: {'; '.join(_outsider(row) for row in outsiders)}.")
    late = answer["latest_start"]
    return {
        "job": answer["job"],
        "place": answer["property"]["name"],
        "way_in": answer["property"]["access"].strip(),
        "what": f"{answer['title']}, {answer['plot']['name']}",
        "news": "",
        "lines": [line.strip() for line in lines if line.strip()],
        "cautions": answer["cautions"],
        "rank": FAR if late is None else floor_minute(late),
        "pile": "have news",
    }


def _outsiders(rows: Iterable[TellFirst], answer: Mapping[str, Any]) -> list[TellFirst]:
    hazards = {caution["hazard"] for caution in answer["cautions"]}
    return [row for row in rows if is_told(row, answer["operation"], hazards)]


def _outsider(row: TellFirst) -> str:
    note = f" ({row.note.strip().rstrip('.')})" if row.note.strip() else ""
    return f"{row.name}, {row.role}, {row.reach}, {row.lead_hours} h before{note}"


def _news(
    intent: Intent,
    answer: Mapping[str, Any],
    hearing: Hearing,
    given: Assignment | None,
    outsiders: Sequence[TellFirst],
    names: Names,
    zone: str,
) -> str:
    match intent.kind:
        case "opened":
            return "Open now, if weather and ground allow." if answer["weather"] else "Open now."
        case "last_day":
            return "Not begun, and its last day nears."
        case "look":
            return "A look is due."
        case "window":
            return _window(intent, hearing, zone)
        case "window_gone":
            day = _told_day(intent.basis.split()[1])
            return f"The hours of {day} are gone: the newest forecast has none."
        case "assigned":
            return _assigned(intent, hearing, given)
        case "overdue":
            return _overdue(intent, hearing, given)
        case _:
            return _tell_first(intent, outsiders, answer, names)


def _why(intent: Intent, answer: Mapping[str, Any]) -> list[str]:
    """What holds the job, where that belongs to the news."""
    if intent.kind == LOOK:
        return [hold["sentence"] for hold in answer["holds"] if hold["kind"] == "look"][:1]
    if intent.kind == LAST_DAY:
        return list(dict.fromkeys(hold["sentence"] for hold in answer["holds"][:2]))
    return []


def _window(intent: Intent, hearing: Hearing, zone: str) -> str:
    newest = hearing.works[intent.job].forecasts[0]
    starts, ends = instant(newest.starts), instant(newest.ends)
    assert starts is not None
    assert ends is not None
    first, last = starts.astimezone(ZoneInfo(zone)), ends.astimezone(ZoneInfo(zone))
    return f"Hours ahead: {_day(first)} {first:%H:%M} to {last:%H:%M}, as two forecasts say."


def _assigned(intent: Intent, hearing: Hearing, given: Assignment | None) -> str:
    if intent.basis.startswith("ended"):
        return f"Taken back: it is not yours any more{_when(given)}."
    before = [basis for basis, left in hearing.known.bases(intent.person, ASSIGNED, intent.job) if left]
    moved = any(basis.startswith(f"given {intent.about} ") and basis != intent.basis for basis in before)
    return f"{'Moved' if moved else 'Given to you'}{_when(given)}."


def _when(given: Assignment | None) -> str:
    """ " for Sat 9 May, 09:00 to 11:00", or nothing where no day was named."""
    if given is None or given.day is None:
        return ""
    hours = f", {given.starts:%H:%M} to {given.ends:%H:%M}" if given.starts and given.ends else ""
    return f" for {_day(given.day)}{hours}"


def _overdue(intent: Intent, hearing: Hearing, given: Assignment | None) -> str:
    if given is None:
        return "Begun, and no end was reported. Is it done, how many acres, or could it not be ended?"
    to = given.person or given.crew
    whose = "Its day was" if intent.person in _hands(hearing, intent) else f"Given to {to}; its day was"
    assert given.day is not None
    return f"{whose} {_day(given.day)}, and no report came. Done, could not, or still to do?"


def _hands(hearing: Hearing, intent: Intent) -> frozenset[int]:
    given = hearing.works[intent.job].given
    return next((one.people for one in given if one.id == intent.about), frozenset())


def _tell_first(intent: Intent, outsiders: Sequence[TellFirst], answer: Mapping[str, Any], names: Names) -> str:
    """Who is to be told and why; how and how long before stands in the job's lines."""
    _, _, starts, lead, *_ = intent.basis.split()
    whom = " and ".join(row.name for row in outsiders if row.lead_hours * 60 == int(lead))
    return f"To be told first: {whom}. {answer['operation_name']} is set for {names.instant(int(starts))}."


def _short(material: Material, hearing: Hearing, names: Names, today: date) -> Item:
    counted, uses = hearing.stock[material.pk]
    soon = within(uses, today)
    first = first_short(counted, uses, today)
    assert first is not None
    needed = sum(use.amount for use in soon)
    lacking = f"{needed - (counted or 0.0):.4g} {material.unit}"
    lines = [f"Ordering takes {amount(material.lead_days, 'days')}." if material.lead_days else "", material.note]
    return {
        "job": 0,
        "place": "",
        "way_in": "",
        "what": f"{material.name} runs short",
        "news": (
            f"{amount(len(soon), 'jobs')} of the next two weeks need {needed:.4g} {material.unit}, "
            f"{counted or 0.0:.4g} are in stock: {lacking} are missing, from {names.day(first.at)} on."
        ),
        "lines": [line for line in lines if line],
        "cautions": [],
        "rank": first.at,
        "pile": "have news",
    }


def _event(row: Assignment, item: Item, answer: Mapping[str, Any], zone: str) -> dict[str, str]:
    """The assigned day as an entry of a calendar, in UTC; the whole day where no hours were named."""
    assert row.day is not None
    starts = day_start(zone, row.day) if row.starts is None else minute_at(zone, row.day, row.starts)
    ends = day_end(zone, row.day) if row.ends is None else minute_at(zone, row.day, row.ends)
    care = [f"Care, {c['hazard'].replace('_', ' ')}. {' '.join(c['lines'])} {c['decides']}" for c in answer["cautions"]]
    return {
        "uid": f"assignment-{row.pk}",
        "start": _iso(starts),
        "end": _iso(ends),
        "summary": item["what"],
        "location": item["place"],
        "description": "\n".join([*item["lines"], *care]),
    }


def _iso(minute: int) -> str:
    at = instant(minute)
    assert at is not None
    return at.astimezone(UTC).isoformat()


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"


def _told_day(text: str) -> str:
    return _day(date.fromisoformat(text))
