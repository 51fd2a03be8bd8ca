"""`manage.py next`: each person's next jobs, then what else is held and why."""

from argparse import ArgumentParser, ArgumentTypeError
from collections.abc import Mapping
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand

from core.api.rendering import dump
from core.clock import now_at, standing
from core.models import Holding
from jobs.management.asked import add_holding, holding_asked, manager_of, not_walked, people_asked, property_asked
from jobs.printing import print_clock, print_held, print_next
from jobs.selectors.next import HOURS_ASKED, Ask, held_jobs, next_jobs


class Command(BaseCommand):
    help = "Each person's next jobs: what, where, when, start by, bring, cautions; then what else is held and why."

    def add_arguments(self, parser: ArgumentParser) -> None:
        add_holding(parser)
        parser.add_argument("--person", metavar="NAME", help="only this person's")
        parser.add_argument("--property", metavar="NAME", help="only jobs there: I am here")
        parser.add_argument("--hours", type=_hours, metavar="N", help="only jobs that fit into so many hours")
        parser.add_argument("--machine", action="append", metavar="KIND", help="only jobs these are enough for; repeat")
        parser.add_argument(
            "--on",
            type=_day,
            metavar="DATE",
            help="only jobs with free hours on that day; where none are listed, what may go then by dates and weather",
        )
        parser.add_argument("--json", action="store_true", help="the same answers as data")

    def handle(self, *args: Any, **options: Any) -> None:
        holding = holding_asked(options["holding"])
        people = people_asked(holding, options["person"])
        place = property_asked(holding, options["property"])
        machines = frozenset(options["machine"]) if options["machine"] else None
        ask = Ask(property=place.pk if place else None, machines=machines, hours=options["hours"], on=options["on"])
        now = now_at(holding)
        found = [(person, next_jobs(holding=holding, person=person, now=now, ask=ask)) for person in people]
        if ask.on is not None:
            found = [(person, [a for a in answers if _may_go(a, ask.on, holding)]) for person, answers in found]
        viewer = people[0] if options["person"] else manager_of(holding)
        held = held_jobs(holding=holding, person=viewer, now=now)
        listed = {answer["job"] for _, answers in found for answer in answers}
        held = [
            answer
            for answer in held
            if answer["job"] not in listed and (place is None or answer["property"]["id"] == place.pk)
        ]
        if options["json"]:
            told = {
                "holding": {"id": holding.pk, "name": holding.name, "zone": holding.zone},
                "now": now,
                "clock_sentence": standing(holding),
                "people": [{"id": person.pk, "name": person.name, "jobs": answers} for person, answers in found],
                "held": held,
            }
            self.stdout.write(dump(told).decode())
            return
        lines = [*print_clock(holding, now), *not_walked(holding)]
        for person, answers in found:
            lines += print_next(answers, holding=holding, person=person.name, on=ask.on)
        for line in [*lines, *print_held(held, holding=holding)]:
            self.stdout.write(line)


def _hours(text: str) -> float:
    try:
        found = float(text)
    except ValueError:
        found = 0.0
    if not 0 < found <= 24:
        raise ArgumentTypeError(HOURS_ASKED)
    return found


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise ArgumentTypeError(f"There is no day {text}. Give one like 2026-05-09.") from error


def _may_go(answer: Mapping[str, Any], day: date, holding: Holding) -> bool:
    """Whether a job may go on a day as far as its own dates and its next known window say."""
    zone, window = ZoneInfo(holding.zone), answer["window"] or {}
    begins = [
        at.astimezone(zone).date()
        for at in (answer["opens_at"] or answer["earliest_start"], window.get("from"))
        if at is not None
    ]
    return all(first <= day for first in begins) and (answer["start_by"] is None or day <= answer["start_by"])
