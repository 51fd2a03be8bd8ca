"""Answers as plain text for a terminal, at most 80 columns wide: rows of the selectors in, lines out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time
from textwrap import wrap
from typing import Any
from zoneinfo import ZoneInfo

from core.clock import standing
from core.models import Holding, Units
from jobs.templatetags.jobs_text import area, bring, duration, stretch, words
from jobs.windows.words import VERDICTS, source_words
from plots import units
from plots.services.importing import Imported

WIDTH = 80
STRETCHES = 4
"""So many stretches of free hours are printed for a job; the rest are counted."""
SAYS_WHEN = frozenset({"predecessor", "lag", "look", "season", "too_early"})
"""Kinds of hold whose sentence says by itself when they clear."""
NOT_PERMISSION = "Nothing here is permission: label, local code and licensed practice decide."

Answer = Mapping[str, Any]


def print_clock(holding: Holding, now: datetime) -> list[str]:
    """The holding and its time: that its clock stands, or what it shows."""
    local = now.astimezone(ZoneInfo(holding.zone))
    told = standing(holding) or f"It is {local:%a} {local.day} {local:%b %Y, %H:%M}."
    return _lines(f"{holding.name}. {told}")


def print_next(answers: Sequence[Answer], *, holding: Holding, person: str, on: date | None = None) -> list[str]:
    """A person's next jobs, as `next_jobs` orders them: what, where, when; then start by, bring, who else, cautions.

    Of each hazard a job carries its first caution, and the list at its end who decides; pages, API and reminders carry
    them all. `on` is the one day that was asked for."""
    lines = ["", *_heading(f"Next for {person}" + ("" if on is None else f" on {_day(on)}"))]
    if not answers and on is not None:
        return [*lines, *_lines("Nothing of the next jobs may go on that day.")]
    if on is not None and not answers[0]["hours_known"]:
        lines += _lines(f"No free hours of {person} are listed: this is what may go by its dates and weather alone.")
    if not answers:
        return [*lines, *_lines("Nothing is open, and nothing opens by itself within seven days.")]
    for number, answer in enumerate(answers, 1):
        lines += _lines(f"{number}. {_what(answer)}. {_state(answer, holding)}", 3, 0)
        told = [_hours(answer), _start_by(answer, holding), answer["instruction"], _bring(answer)]
        told += [_company(answer, person), *_cautions(answer)]
        lines += [line for part in told if part for line in _lines(part, 3)]
    return [*lines, *_who_decides(answers)]


def print_held(answers: Sequence[Answer], *, holding: Holding) -> list[str]:
    """What waits and why, in the order given: each hold with when or how it clears, and until when it is not too late.

    Holds that repeat word for word are told once a job."""
    lines = ["", *_heading("Held, and why")]
    if not answers:
        return [*lines, "Nothing is held."]
    for answer in answers:
        state = "" if answer["state"] == "lapsed" else f" {answer['state_word'].capitalize()}."
        lines += _lines(f"- {_what(answer)}.{state}", 2, 0)
        reasons = [
            h["sentence"] if h["kind"] in SAYS_WHEN else f"{h['sentence']} {h['clears']}" for h in answer["holds"]
        ]
        hazards = ", ".join(words(caution["hazard"]) for caution in answer["cautions"])
        told = [*dict.fromkeys(reasons), answer["deadline_sentence"], f"Care: {hazards}." if hazards else ""]
        lines += [line for part in told if part for line in _lines(part, 4)]
    return [*lines, *_lines(NOT_PERMISSION)]


def print_chance(told: Mapping[str, Any]) -> list[str]:
    """How often the season of a plot was finished in years of daily weather, from which, and what was left out."""
    lines = ["", *_heading(f"How likely: {told['name']}")]
    if told["known"]:
        lines += _lines(f"By {told['years']} years of daily weather ({', '.join(told['stations'])}):")
    return [*lines, *_lines(told["sentence"]), *_lines(told["assumed"])]


def print_progress(rows: Iterable[Mapping[str, Any]], *, by: str, measure: str = Units.US) -> list[str]:
    """A table of jobs and worked area done, with what is open, under way, held, too late, and the least slack."""
    unit = "ha" if measure == Units.METRIC else "ac"
    lines = ["", *_heading(f"Progress by {by}")]
    head = f"{unit} done"
    lines.append(f"{'':24}{'done':>8}{head:>9}{'left':>7}{'open':>6}{'begun':>6}{'held':>6}{'late':>5}  slack")
    for row in rows:
        states = row["states"]
        slack = row["smallest_slack_days"]
        lines.append(
            f"{_short(row['name'], 23):24}{str(states['done']) + '/' + str(row['jobs']):>8}"
            f"{_figure(row['acres_done'], measure):>9}{_figure(row['acres_left'], measure):>7}"
            f"{states['open']:>6}{states['under_way']:>6}{states['held']:>6}{states['lapsed']:>5}"
            f"  {'-' if slack is None else f'{slack} d'}"
        )
    return lines


def print_sent(sent: Sequence[tuple[str, str]]) -> list[str]:
    """The reminders that went out: (name, title) of each, in the order given."""
    lines = ["", *_heading("Reminders sent")]
    if not sent:
        return [*lines, "None."]
    return [*lines, *(line for name, title in sent for line in _lines(f"- To {name}: {title}.", 2, 0))]


def print_message(name: str, title: str, lines: Iterable[str]) -> list[str]:
    """One reminder as it went, on lines of at most 80 columns."""
    told = ["", *_lines(f"In full, to {name}:"), *_lines(title, 2), ""]
    for line in lines:
        text = line.lstrip()
        indent = 2 + len(line) - len(text)
        told += _lines(text, indent) if text else [""]
    return told


def print_windows(told: Mapping[str, Any]) -> list[str]:
    """The hours of one job: its windows with what opens and ends them, its limits as they stand now."""
    lines = _heading(told["title"]) + _lines(told["sentence"])
    for window in told["windows"]:
        shown = stretch({**window, "zone": told["zone"]})
        lines += _lines(f"- {shown}: before, {window['opens']}; after, {window['ends']}. {window['closest']}", 2, 0)
    for limit in (*told["limits"], *told["advice"]):
        source = f" Source: {source_words(limit['source_title'], limit['worth'])}." if limit["source_title"] else ""
        lines += _lines(f"{limit['sentence']} {VERDICTS[limit['verdict']]}{source}", 2)
    if told["set_aside"]:
        lines += _lines(f"Set aside: {', '.join(limit['what'] for limit in told['set_aside'])}.")
    return [*lines, *_lines(NOT_PERMISSION)]


def print_imported(imported: Imported, *, kind: str) -> list[str]:
    """What an import did: counts, notes, and every refused row with its reason and what to do."""
    lines = _lines(f"Read as {kind}. {imported.summary}")
    lines += [line for note in imported.notes for line in _lines(f"Note: {note}", 2, 0)]
    return [*lines, *(line for row in imported.refused for line in _lines(f"- {row.sentence}", 2, 0))]


def _heading(text: str) -> list[str]:
    return [*_lines(text), "-" * min(WIDTH, len(text))]


def _lines(text: str, indent: int = 0, first: int | None = None) -> list[str]:
    """The text on lines of at most `WIDTH` columns; the first line is indented by `first`, or else like the others."""
    start = indent if first is None else first
    return wrap(text, WIDTH, initial_indent=" " * start, subsequent_indent=" " * indent) or [""]


def _what(answer: Answer) -> str:
    return f"{answer['title']}, {answer['plot']['name']}, {answer['property']['name']}"


def _state(answer: Answer, holding: Holding) -> str:
    if answer["state"] == "held":
        at = answer["opens_at"]
        return f"Opens {_moment(at, holding)}." if at is not None else "Held."
    now = ", in free hours now" if answer["in_hours_now"] else ""
    return f"{answer['state_word'].capitalize()}{now}."


def _hours(answer: Answer) -> str:
    shown = [f"{stretch(h)}{', then ' + h['ends'] if h['ends'] else ''}" for h in answer["hours"][:STRETCHES]]
    more = len(answer["hours"]) - len(shown)
    word = "Free, whether fit is not known" if not answer["fit_known"] else "Your hours" if answer["window"] else "Free"
    free = f"{word}: {'; '.join(shown)}{f'; and {more} more' if more else ''}." if shown else ""
    return " ".join(part for part in (free, answer["hours_note"]) if part)


def _start_by(answer: Answer, holding: Holding) -> str:
    left = area(answer["acres_left"], holding)
    size = f"{duration(answer['minutes'])}{f' for {left}' if left else ''}"
    look = "" if answer["look_by"] is None else f" Look by {_moment(answer['look_by'], holding)}."
    way = answer["property"]["access"].rstrip(".")
    return f"{answer['deadline_sentence']} Takes {size}.{look}" + (f" Way in: {way}." if way else "")


def _bring(answer: Answer) -> str:
    told = bring(answer["bring"])
    return f"Bring: {told}." if told else ""


def _company(answer: Answer, person: str) -> str:
    """Whom the job is given to, and how many have to be there."""
    told = []
    for given in answer["assigned"]:
        day = f" for {_day(given['day'])}" if given["day"] else ""
        hours = f" {_clock(given['from'])} to {_clock(given['until'])}" if given["from"] and given["until"] else ""
        told.append(f"{'you' if given['to'] == person else given['to']}{day}{hours}")
    least = answer["least_crew"]
    parts = [f"Given to {', '.join(told)}." if told else "", f"At least {least} people." if least > 1 else ""]
    return " ".join(part for part in parts if part)


def _cautions(answer: Answer) -> list[str]:
    return [f"Care, {words(caution['hazard'])}: {caution['lines'][0]}" for caution in answer["cautions"]]


def _who_decides(answers: Iterable[Answer]) -> list[str]:
    """For each hazard of the list, once, who decides."""
    found = {caution["hazard"]: caution["decides"] for answer in answers for caution in answer["cautions"]}
    told = [f"On {words(hazard)}: {decides}" for hazard, decides in found.items()]
    return [line for part in [*told, NOT_PERMISSION] for line in _lines(part)]


def _moment(at: datetime, holding: Holding) -> str:
    local = at.astimezone(ZoneInfo(holding.zone))
    return _day(local.date()) + ("" if (local.hour, local.minute) == (0, 0) else f" {local:%H:%M}")


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"


def _clock(at: time) -> str:
    return f"{at:%H:%M}"


def _short(text: str, longest: int) -> str:
    return text if len(text) <= longest else text[: longest - 3] + "..."


def _figure(acres: float, measure: str) -> str:
    found = units.area(acres, measure)
    return "" if found is None else f"{found['value']:.1f}"
