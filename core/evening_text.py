"""From pieces of news to one message: by trip, numbered by job, each hazard's cautions once. Pure.

A piece of news is plain data, made by the room that knows what it means:
`job` (0: no job), `place`, `way_in`, `what`, `news` (sentence), `lines`, `cautions` ({"hazard", "lines", "decides"}),
`rank` (the smaller, the sooner), `pile` (what many of it did: "opened"), and perhaps `why` (sentences after the news),
`events` for a calendar, and `plain`: the job is named but nothing is to be reported on it by its number.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

MOST_A_TRIP = 5
MOST_JOBS = 12
"""So many jobs are told in full, a trip and a message; the others of a trip fold into one line."""
NOT_PERMISSION = "Nothing here is permission: label, local code and licensed practice decide."
# Not of a payload: only where a way is known is it known whether answers come back by it.
HOW_TO_ANSWER = 'Answer with number and word: "1 DONE", "1 DONE 4 AC" or "1 NO" and the reason.'

Item = Mapping[str, Any]


def alone(item: Item) -> dict[str, Any]:
    """The payload of one piece of news that goes by itself."""
    told = _Told()
    told.trips([_merged([item])])
    return told.payload(f"{item['news'].rstrip('.')}: {_what(item)}", [item])


def together(day: date, items: Sequence[Item], since: date) -> dict[str, Any]:
    """The payload of one evening's message about all these pieces; `since` is the local day of the oldest of them.

    Trips stand in the order of their first job, jobs by rank; what belongs to no job comes last."""
    by_job: dict[int, list[Item]] = {}
    for item in items:
        if item["job"]:
            by_job.setdefault(item["job"], []).append(item)
    jobs = sorted((_merged(group) for group in by_job.values()), key=lambda item: (item["rank"], item["job"]))
    others = sorted((item for item in items if not item["job"]), key=lambda item: (item["rank"], item["what"]))
    told = _Told(" today" if since == day else f" since {since:%A}")
    told.trips(jobs)
    for item in others:
        told.lines += [f"{_what(item)}. {item['news']}".rstrip(), *_indented(item["lines"])]
    return told.payload(_title(day, jobs, others), [*jobs, *others])


class _Told:
    """The message as it grows."""

    def __init__(self, since: str = "") -> None:
        self.lines: list[str] = []
        self.numbered: list[int] = []
        self.room = MOST_JOBS
        self.since = since

    def trips(self, jobs: Sequence[Item]) -> None:
        places: dict[str, list[Item]] = {}
        for item in jobs:
            places.setdefault(item["place"], []).append(item)
        for place, here in places.items():
            way_in = next((item["way_in"] for item in here if item["way_in"]), "")
            self.lines.append(f"{place}. Way in: {_ended(way_in)}" if way_in else f"{place}.")
            full = min(MOST_A_TRIP, self.room)
            self.room -= len(here[:full])
            for item in here[:full]:
                self._job(item)
            if here[full:]:
                self.lines.append(self._pile(place, here[full:]))
            self.lines.append("")

    def _job(self, item: Item) -> None:
        mark = "-"
        if not item.get("plain"):
            self.numbered.append(item["job"])
            mark = f"{len(self.numbered)}."
        self.lines.append(" ".join([mark, f"{_what(item)}.", item["news"], *item.get("why", ())]))
        self.lines += _indented(item["lines"])

    def _pile(self, place: str, items: Sequence[Item]) -> str:
        words = {item["pile"] for item in items}
        did = words.pop() if len(words) == 1 else "have news"
        return f"{len(items)} {'job' if len(items) == 1 else 'jobs'} more at {place} {did}{self.since}."

    def payload(self, title: str, items: Sequence[Item]) -> dict[str, Any]:
        if self.lines and self.lines[-1]:
            self.lines.append("")
        self.lines += _cautions(items)
        while self.lines and not self.lines[-1]:
            self.lines.pop()
        found: dict[str, Any] = {"title": title, "lines": self.lines, "jobs": self.numbered}
        events = {event["uid"]: event for item in items for event in item.get("events", ())}
        if events:
            found["events"] = [events[uid] for uid in sorted(events)]
        return found


def _merged(items: Sequence[Item]) -> dict[str, Any]:
    """All news about one job as one piece."""
    first = items[0]
    return {
        **first,
        "rank": min(item["rank"] for item in items),
        "news": " ".join(dict.fromkeys(item["news"] for item in items)),
        "why": list(dict.fromkeys(line for item in items for line in item.get("why", ()))),
        "lines": list(dict.fromkeys(line for item in items for line in item["lines"])),
        "pile": first["pile"] if len({item["pile"] for item in items}) == 1 else "have news",
        "cautions": list({caution["hazard"]: caution for item in items for caution in item["cautions"]}.values()),
        "events": [event for item in items for event in item.get("events", ())],
        "plain": all(item.get("plain") for item in items),
    }


def _title(day: date, jobs: Sequence[Item], others: Sequence[Item]) -> str:
    when = f"{day:%a} {day.day} {day:%b}"
    if not jobs:
        return f"{when}: {'; '.join(_what(item) for item in others[:2])}"
    places = list(dict.fromkeys(item["place"] for item in jobs))
    where = f"at {places[0]}" if len(places) == 1 else f"at {len(places)} places"
    return f"{when}: {len(jobs)} {'job' if len(jobs) == 1 else 'jobs'} {where}, first {_what(jobs[0])}"


def _cautions(items: Iterable[Item]) -> list[str]:
    """The cautions of every hazard in the message, once, also of jobs that are only counted; then who decides."""
    found = {caution["hazard"]: caution for item in items for caution in item["cautions"]}
    lines = []
    for hazard, caution in found.items():
        lines.append(f"Care, {hazard.replace('_', ' ')}. {' '.join(caution['lines'])} {caution['decides']}")
    return [*lines, NOT_PERMISSION] if lines else []


def _what(item: Item) -> str:
    return str(item["what"]).rstrip(".")


def _ended(text: str) -> str:
    return text if text.rstrip().endswith((".", "?", ":")) else f"{text.rstrip()}."


def _indented(lines: Iterable[str]) -> list[str]:
    return [f"   {line}" for line in lines]
