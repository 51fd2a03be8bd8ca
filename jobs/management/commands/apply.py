"""`manage.py apply`: put a sequence on a plot."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core.clock import now_at
from core.errors import Refused
from jobs.management.asked import plot_asked
from jobs.minutes import floor_minute, local_day
from jobs.models import JobState, Season, Sequence
from jobs.selectors.answers import answer_rows, answers
from jobs.sequences.beginning import Beginning, season_to_begin
from jobs.services.across import spec_of
from jobs.services.seasons import apply_sequence, latest_sequence
from jobs.services.walking import walk_holding

SHOWN = 5
"""So many jobs that are too late already are named."""


class Command(BaseCommand):
    help = "Put a sequence on a plot; without a name, list the sequences."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("sequence", nargs="?", help="key of the sequence, like corn")
        parser.add_argument("--plot", help="name of the plot")
        parser.add_argument("--property", help="name of its property, where several plots have the name")
        parser.add_argument(
            "--year", type=int, help="anchor year (left out: the first season that can still be met, which is said)"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if not options["sequence"]:
            for sequence in Sequence.objects.filter(retired=False).order_by("key", "version"):
                self.stdout.write(f"{sequence.key:24} {sequence.name}")
            return
        plot = plot_asked(options["plot"], options["property"])
        now = now_at(plot.holding)
        try:
            sequence = latest_sequence(plot.holding_id, options["sequence"])
            chosen = season_to_begin(spec_of(sequence), local_day(plot.holding.zone, floor_minute(now)))
            year = options["year"] or chosen.year
            season = apply_sequence(plot=plot, sequence=sequence, year=year, by=None)
        except Refused as error:
            raise CommandError(f"{error.sentence} Nothing was stored.") from error
        walk_holding(plot.holding_id)
        self.stdout.write(f"{season.label} stands on {plot.name}: {season.jobs.count()} jobs.")
        if options["year"] is None:
            self.stdout.write(_why(chosen))
        late = answers(plot.holding, answer_rows(season.jobs.filter(reckoning__state=JobState.LAPSED)), now)
        if late:
            self.stdout.write(f"Too late already: {len(late)} of its jobs.")
            for answer in late[:SHOWN]:
                self.stdout.write(f"- {answer['title']}. {answer['deadline_sentence']}")
            if len(late) > SHOWN:
                self.stdout.write(f"- and {len(late) - SHOWN} more")
            self.stdout.write("Report each as done or left out, or take the season back:")
            self.stdout.write(f"  {_way_back(season)}")


def _why(chosen: Beginning) -> str:
    if chosen.passed_year is None:
        over = f": {chosen.over} of its {chosen.steps} steps are over, the others can be met" if chosen.over else ""
        return f"This is the season of {chosen.year}{over}. Another one goes by --year."
    return (
        f"This is the season of {chosen.year}: of the season of {chosen.passed_year}, {chosen.passed_over} of "
        f"{chosen.steps} steps are over. If you mean that one, say --year {chosen.passed_year}."
    )


def _way_back(season: Season) -> str:
    plot = season.plot
    return f'python manage.py withdraw "{season.label}" --plot "{plot.name}" --property "{plot.property.name}"'
