"""One replay of the seasons on a plot for every year of history: how often it is finished, and what spoils it most."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np

from core.models import Holding
from jobs.chances.chance import WORK_DAY_MIN, days_needed
from jobs.chances.history import HIGH, LOW, RAIN, Bools, History, Ints, filled, history, names_in
from jobs.chances.replay import Season, reference_part, replay
from jobs.chances.spoiling import PlotChance, plots_of
from jobs.chances.suitable import Days, reach_days, suitable
from jobs.graph.data import FAR, Arc, DegreeDays, Lag, Problem, Rain
from jobs.minutes import floor_minute, local_day
from jobs.models import Job, LagUnit
from jobs.selectors.chances import MOST_DAYS, left_out_words, limits_of, named_limits
from jobs.selectors.facts import Loaded, load
from jobs.selectors.facts.rows import link_rows
from jobs.selectors.past_days import PastDays, past_days
from jobs.selectors.weather import RAIN as RAIN_CURVE
from jobs.selectors.weather import property_weather
from jobs.windows.limits import Limit
from plots.agronomy.growth import NOT_COUNTED, daily_hundredths
from plots.degree_days import DegreeDaySpec, day_starts, degree_days, hundredths
from plots.models import Plot

Place = tuple[int, str]
"""A property and a way of counting."""

ASSUMED = (
    "People, machines, stock and the yes of others are taken as there; a job without a limit goes on any of its days."
)


def plot_chance(holding: Holding, plot: Plot, now: datetime) -> dict[str, Any]:
    """The share of the years of history in which all jobs of the plot are finished on the way the walk reckons with
    now, from today on with each year's weather, and the job that spoils it most often."""
    told: dict[str, Any] = {
        "plot": plot.pk, "name": plot.name, "known": False, "years": 0, "first_year": None, "last_year": None,
        "years_finished": None, "share": None, "spoiler": None, "left_out": [], "stations": [], "assumed": ASSUMED,
    }  # fmt: skip
    components = set(Job.objects.filter(plot=plot).values_list("component", flat=True))
    if not components:
        return told | {"sentence": "There is no job on this plot."}
    found = _Replayed(holding, load(holding, now, components), now, components)
    told |= {"stations": found.past[plot.property_id].names}
    mine = [node.id for node in found.problem.nodes if found.loaded.rows[node.id].plot == plot.pk]
    if not mine:
        return told | {"sentence": "No job of this plot is still to be done."}
    if not found.years:
        return told | {"sentence": "There is no year of daily weather for this place yet. Import a station's history."}
    season = found.season()
    one = plots_of(season, replay(season), {job: row.plot for job, row in found.loaded.rows.items()})[plot.pk]
    out = named_limits(limit for job in mine for limit in found.left_out.get(job, ()))
    return told | _told(one, found.years, found.recorded(plot.property_id), out)


def _told(one: PlotChance, years: tuple[int, ...], recorded: int, out: list[dict[str, str]]) -> dict[str, Any]:
    spoiler = None
    sentence = f"In {one.finished} of {one.years} years all its jobs were finished."
    if recorded > one.years:
        sentence += f" {recorded} years are on record; a season that runs past them, or lacks days there, is left out."
    if one.spoiler is not None:
        job = Job.objects.select_related("plot").get(pk=one.spoiler)
        spoiler = {"job": job.pk, "title": job.title, "plot": job.plot.name, "years": one.spoiled}
        times = f"{one.spoiled} year{'s' if one.spoiled != 1 else ''}"
        sentence += f" {job.title}, {job.plot.name}, spoiled it most often: in {times}."
    if out:
        sentence += f" {left_out_words(out)}"
    return {
        "known": True, "years": one.years, "first_year": years[0], "last_year": years[-1],
        "years_finished": one.finished, "share": round(one.share, 4), "spoiler": spoiler, "left_out": out,
        "sentence": sentence,
    }  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Frame:
    """The season's days that are looked at: `today` to `last`, curves from `first` on."""

    first: date
    today: date
    last: date


class _Replayed:
    """Facts and history of some components, brought into the form that is replayed."""

    def __init__(self, holding: Holding, loaded: Loaded, now: datetime, components: set[int]) -> None:
        self.holding, self.loaded = holding, loaded
        today = local_day(holding.zone, floor_minute(now))
        self.links = {link.id: link for link in link_rows(holding.pk, components)}
        places = {row.property: row.zone for row in loaded.rows.values()}
        self.past = past_days(places, today)
        self.zones = places
        self.problem = self._shortened(self._counted(reference_part(loaded.facts.problem)))
        self.frame = self._frame(today)
        self.limits = limits_of(holding, loaded, [node.id for node in self.problem.nodes])
        reach = timedelta(days=max([1, *(reach_days(limits) for limits in self.limits.values())]))
        self.pad = reach
        self.histories = {pk: self._history(past, reach) for pk, past in self.past.items()}
        self.days: dict[int, Days] = {}
        self.left_out: dict[int, tuple[Limit, ...]] = {}
        self._suitable()
        self.years = self._years()

    def _shortened(self, problem: Problem) -> Problem:
        """Work of more than a working day goes over so many days on end; what was done of a job is not done again."""
        nodes = []
        for node in problem.nodes:
            minutes = node.duration if node.rest is None else node.rest
            if node.started is None and minutes > WORK_DAY_MIN:
                whole = days_needed(minutes) - 1
                minutes = whole * 1440 + minutes - whole * WORK_DAY_MIN
                node = replace(node, duration=minutes)
            nodes.append(node)
        return replace(problem, nodes=tuple(nodes))

    def _counted(self, problem: Problem) -> Problem:
        """The same with curves numbered by property and way of counting, those included that today's weather leaves too
        short: the years of history reach far enough."""
        self.numbers: dict[Place, int] = {}
        return replace(problem, arcs=tuple(self._arc(arc) for arc in problem.arcs), curves={})

    def _arc(self, arc: Arc) -> Arc:
        link = self.links.get(arc.id)
        if link is None:
            return arc
        place = self.loaded.rows[arc.head].property
        kind = RAIN_CURVE if link.unit == LagUnit.RAIN_IN else link.degree_days
        return replace(
            arc,
            minimum=self._lag(arc.minimum, (place, kind)),
            maximum=self._lag(arc.maximum, (place, link.degree_days)),
        )

    def _lag(self, lag: Lag | None, place: Place) -> Lag | None:
        if not isinstance(lag, DegreeDays | Rain):
            return lag
        return replace(lag, curve=self.numbers.setdefault(place, len(self.numbers) + 1))

    def _frame(self, today: date) -> _Frame:
        ends = [to for node in self.problem.nodes for _, to in node.spans if to < FAR]
        ends += [node.deadline for node in self.problem.nodes if node.deadline is not None]
        last = max([today + timedelta(days=60), *(local_day(self.holding.zone, end) for end in ends)])
        anchors = [
            local_day(self.holding.zone, moment.early)
            for node in self.problem.nodes
            for moment in (node.started, node.finished)
            if moment is not None
        ]
        first = min([today, *anchors]) - timedelta(days=1)
        return _Frame(
            max(first, today - timedelta(days=MOST_DAYS)), today, min(last, today + timedelta(days=MOST_DAYS))
        )

    def _history(self, past: PastDays, reach: timedelta) -> History:
        """From before the first day that a curve needs to after the last that a limit looks at."""
        first, last = min(self.frame.first, self.frame.today - reach), self.frame.last + reach
        return history(past.days, first, last, before=self.frame.today.year)

    def _suitable(self) -> None:
        shared: dict[tuple[int, tuple[Limit, ...]], Days] = {}
        for job, limits in self.limits.items():
            if not limits:
                continue
            key = self.loaded.rows[job].property, limits
            if key not in shared:
                shared[key] = suitable(limits, self.histories[key[0]])
            days = shared[key]
            self.left_out[job] = days.left_out
            if days.answered:
                self.days[job] = days

    def recorded(self, property_id: int) -> int:
        """In how many years before this one somebody noted a day at the property."""
        return len({day.year for day in self.past[property_id].days if day.year < self.frame.today.year})

    def _years(self) -> tuple[int, ...]:
        """The years in which every property knows enough of what its jobs and waits read, from today on."""
        wanted: dict[int, set[str]] = {pk: set() for pk in self.past}
        for job, days in self.days.items():
            wanted[self.loaded.rows[job].property] |= set(days.reads)
        for place, kind in self.numbers:
            wanted[place] |= {RAIN} if kind == RAIN_CURVE else {HIGH, LOW}
        found: set[int] | None = None
        for pk, names in wanted.items():
            if not names:
                continue
            past = self.histories[pk]
            ahead = past.between(self.frame.today, self.frame.last)
            enough = past.part(ahead).complete(names_in(names))
            kept = set(past.only(enough).years)
            found = kept if found is None else found & kept
        return tuple(sorted(found or ()))

    def season(self) -> Season:
        """What is replayed: today's facts with each year's suitable days and curves."""
        frame, zone = self.frame, self.holding.zone
        rows = {pk: _rows(past.years, self.years) for pk, past in self.histories.items()}
        masks: dict[int, Bools] = {}
        shared: dict[int, Bools] = {}
        for job, days in self.days.items():
            place = self.loaded.rows[job].property
            if id(days) not in shared:
                ahead = self.histories[place].between(frame.today, frame.last)
                shared[id(days)] = days.holds[rows[place]][:, ahead]
            masks[job] = shared[id(days)]
        count = (frame.last - frame.first).days + 1
        values = {number: self._values(place, rows[place[0]]) for place, number in self.numbers.items()}
        starts = day_starts(zone, frame.first, count)
        ahead_of = starts[(frame.today - frame.first).days :]
        return Season(self.problem, len(self.years), ahead_of, masks, starts, values)

    def _values(self, place: Place, rows: Ints) -> Ints:
        """Days of the curve by year: to yesterday what was observed here, from today on that year's; what nobody knows
        is the mean of the other years."""
        pk, kind = place
        frame, past = self.frame, self.histories[place[0]]
        columns = past.between(frame.first, frame.last)
        known = property_weather({pk}, self.zones, frame.first).get(pk)
        behind = [frame.first + timedelta(days=n) for n in range((frame.today - frame.first).days)]
        if kind == RAIN_CURVE:
            rain = past.of(RAIN)[rows][:, columns]
            values = np.where(np.isnan(rain), 0, np.floor(np.nan_to_num(rain) * 100 + 0.5)).astype(np.int64)
            for at, day in enumerate(behind):
                inches = known.rain.get(day) if known is not None else None
                values[:, at] = 0 if inches is None else hundredths(inches)
            return values
        spec = DegreeDaySpec.parse(kind)
        values = filled(
            daily_hundredths(past.of(HIGH)[rows][:, columns], past.of(LOW)[rows][:, columns], spec), NOT_COUNTED
        )
        for at, day in enumerate(behind):
            told = known.observed.get(day) if known is not None else None
            values[:, at] = degree_days(*told, spec) if told is not None else values[:, at].mean()
        return values


def _rows(have: tuple[int, ...], wanted: tuple[int, ...]) -> Ints:
    place = {year: at for at, year in enumerate(have)}
    return np.array([place[year] for year in wanted if year in place], np.int64)
