"""What label, law, contract and safety read of a holding, turned into the bounds of each job.

Facts of jobs in other components count where a rule reads across them (what was sprayed on the plot, what a sprayer
carries, the year's share of a contract); their reckonings never."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from core.models import Holding
from jobs.facts import Bound
from jobs.folding import Folded
from jobs.graph.data import NEG, Curve
from jobs.law import contract as contracts
from jobs.law import label as labels
from jobs.law import people, zones
from jobs.law.data import CROPS_SOWN, SPRAYS, UNNAMED, LabelFact, Spray
from jobs.minutes import day_start, instant, local_day
from jobs.models import Job, NeedKind, Season
from jobs.reference import reference
from jobs.selectors.facts.crops import crop_sown
from jobs.selectors.facts.law_rows import (
    POST_SIGNS,
    Planted,
    confirmed_people,
    contract_terms,
    label_facts,
    machines_by_kind,
    mix_of,
    planted_strips,
    posted_sprays,
    sheets,
    washed,
)
from jobs.selectors.facts.law_zones import presences
from jobs.selectors.facts.one_job import DESK
from jobs.selectors.facts.rows import JobRow, few, job_rows
from jobs.selectors.facts.sprays import first_rain
from jobs.selectors.facts.told import folded_reports
from jobs.selectors.weather import RAIN, curves

CARRIES_MINUTES = 400 * 1440
"""So long a spray counts for what a sprayer carries, and a planting for what stands: a season and the winter after."""

NO_CROP_YET = frozenset({"burndown", "residual", "kill_stand", "kill_cover", "autumn_kill"})
"""Tags of sprays that go before the crop is up, or that are meant to kill what stands: no lot has to stand them."""

SHEET_FIRST = frozenset({"burn", "feed"})
"""Operations that are held for what their sheet does not say, so with no sheet too."""

Needs = Mapping[int, list[Any]]
Folds = Mapping[int, Folded]


def law_bounds(
    holding: Holding, rows: Mapping[int, JobRow], needs: Needs, folded: Folds, read_needs: Any, whole: bool,
    minute: int, under: Collection[int],
) -> dict[int, tuple[Bound, ...]]:  # fmt: skip
    """The bounds of the jobs of `rows` that have any. `read_needs` reads those of others; `whole`: there are none.

    `under` are the properties of the rows that are under contract."""
    return _Law(holding, rows, needs, folded, read_needs, whole, minute, under).bounds()


class _Law:
    def __init__(
        self, holding: Holding, rows: Mapping[int, JobRow], needs: Needs, folded: Folds, read_needs: Any, whole: bool,
        minute: int, under: Collection[int],
    ) -> None:  # fmt: skip
        self.holding, self.minute, self.mine = holding, minute, rows
        # By whole days of the holding, so that nothing changes between two midnights.
        self.oldest = day_start(holding.zone, local_day(holding.zone, minute)) - CARRIES_MINUTES
        self.rows, self.needs, self.folded = dict(rows), dict(needs), dict(folded)
        if not whole:
            self._read_others(read_needs)
        chosen = {
            need["material_id"]
            for job, listed in self.needs.items()
            if job in self.rows and self.rows[job].operation in SPRAYS
            for need in listed
            if need["material_id"] is not None
        }
        self.labels = label_facts(holding.pk, chosen) if chosen else {}
        self.kinds = machines_by_kind(holding.pk) if chosen else {}
        sprayed = [row for row in self.rows.values() if row.operation in SPRAYS]
        told = any(self.folded[row.id].started or self.folded[row.id].parts for row in sprayed)
        self.crops = self._crop_names() if chosen or told else {}
        sprays = {row.id: spray for row in sprayed if (spray := self._spray(row))}
        # A product that nobody named closes the plot; of sprayers and sums of a year it tells nothing.
        self.sprays = {job: spray for job, spray in sprays.items() if spray.labels != (UNNAMED,)}
        self.on_plot: dict[int, list[Spray]] = defaultdict(list)
        for spray in sprays.values():
            if spray.begun is not None or spray.ends:
                self.on_plot[spray.plot].append(spray)
        open_jobs = {
            job: row for job, row in rows.items() if folded[job].finished is None and row.operation not in DESK
        }
        self.going = confirmed_people(holding.pk, open_jobs) if open_jobs else {}
        self.terms, self.covers = contract_terms(holding, rows.values(), under)
        self.asked = [row for row in open_jobs.values() if self._is_asked(row)]
        self.sheets = sheets(holding.pk, [row.id for row in self.asked]) if self.asked else {}
        self.strips: dict[int, list[tuple[int | None, Planted]]] | None = None
        self.near = presences(holding, [row for row in self.asked if row.operation in SPRAYS], self.going, minute)
        self.rain: dict[tuple[int, str], Curve] | None = None
        self.washed: dict[int, int] | None = None

    def _read_others(self, read_needs: Any) -> None:
        """Jobs of other components on which these jobs' rules turn: sprays of the plots or of a sprayer that one of
        these would use, disturbances of the properties under contract."""
        jobs = Job.objects.filter(holding=self.holding, reports__isnull=False)
        plots = {row.plot for row in self.mine.values()}
        ids = set(jobs.filter(operation__in=SPRAYS, **few(plot_id__in=plots)).values_list("pk", flat=True))
        if any(row.operation in SPRAYS for row in self.mine.values()):
            since = instant(self.oldest)
            latest = jobs.filter(operation__in=SPRAYS, reports__received_at__gte=since)
            ids |= set(latest.values_list("pk", flat=True))
        if any(row.operation in contracts.DISTURBS for row in self.mine.values()):
            properties = {row.property for row in self.mine.values()}
            under = jobs.filter(
                operation__in=contracts.DISTURBS,
                plot__property__contracts__disturb_share__isnull=False,
                **few(plot__property_id__in=properties),
            )
            ids |= set(under.values_list("pk", flat=True))
        if any(row.operation in SPRAYS for row in self.mine.values()):
            sown = jobs.filter(operation__in=CROPS_SOWN, **few(plot_id__in=plots))
            ids |= set(sown.values_list("pk", flat=True))
        ids -= self.mine.keys()
        if not ids:
            return
        rows = job_rows(self.holding, jobs=ids)
        self.rows |= rows
        self.needs |= read_needs(self.holding.pk, job__in=ids)
        self.folded |= folded_reports(self.holding.pk, rows, job__in=ids)

    def _is_asked(self, row: JobRow) -> bool:
        """Whether any rule reads of the job; most jobs of a holding are passed over here."""
        return (
            row.plot in self.on_plot
            or row.plot in self.covers
            or row.id in self.sprays
            or row.id in self.going
            or row.operation in SHEET_FIRST
            or row.operation in SPRAYS
        )

    def _spray(self, row: JobRow) -> Spray | None:
        listed = self.needs.get(row.id, ())
        mix = mix_of(listed, self.labels)
        if not mix:
            return None
        told = self.folded[row.id]
        ends = {part.at.late for part in told.parts} | ({told.finished.late} if told.finished else set())
        machines: set[int] = set()
        for need in listed:
            if need["kind"] == NeedKind.MACHINE:
                one = need["machine_id"]
                machines |= set(self.kinds.get(need["name"], ())) if one is None else {one}
        rates = {
            need["material_id"]: need["rate_per_acre"]
            if need["rate_per_acre"] is not None or not need["amount"] or not row.acres
            else need["amount"] / row.acres
            for need in listed
            if need["material_id"] in self.labels
        }
        return Spray(
            row.id,
            row.plot,
            mix,
            told.started.late if told.started else None,
            tuple(sorted(ends)),
            told.finished is not None,
            row.round,
            rates,
            frozenset(machines),
            self.crops.get(row.season or 0, ""),
            "residual" in row.details.get("tags", ()),
        )

    def bounds(self) -> dict[int, tuple[Bound, ...]]:
        return {row.id: mine for row in self.asked if (mine := tuple(self._of(row)))}

    def _of(self, row: JobRow) -> Iterable[Bound]:
        sprays = self.on_plot.get(row.plot, ())
        if row.operation != POST_SIGNS:
            yield from labels.entry(row.id, row.round, sprays)
        yield from labels.waits(row.operation, sprays)
        if row.operation in CROPS_SOWN and sprays and self.folded[row.id].started is None:
            crop = crop_sown(row.step, row.details.get("tags", ()), self.crops.get(row.season or 0, ""))
            yield from labels.plant_backs(crop, sprays, lambda at, inches: self._first_rain(row, at, inches))
        sheet = self.sheets.get(row.id, people.SheetFact())
        going = self.going.get(row.id, frozenset())
        started = self.folded[row.id].started is not None
        spray = self.sprays.get(row.id)
        if spray is not None and not started:
            yield from self._sprayed(row, spray, sheet)
        if row.id in self.near:
            radius = zones.exclusion_ft(
                sheet.spray_method, vmd_microns=sheet.droplet_microns, height_in=sheet.nozzle_in
            )
            yield from zones.exclusion(radius, self.near[row.id])
        for pk in self.covers.get(row.plot, ()):
            yield from self._contract(row, self.terms[pk], sheet)
        if started:
            return
        if row.operation == "burn":
            yield from people.permit(sheet, lambda day: day_start(row.zone, day))
            yield from people.crew(sheet, row.details.get("least_crew"), going)
            yield from people.firebreak(sheet)
        if row.operation == "feed":
            yield from people.agency(sheet, _season_of(row), lambda day: day_start(row.zone, day))
        operation = reference().operations.get(row.operation)
        usual = self.holding.check_in_minutes, self.holding.check_in_contact
        yield from people.lone_work(sheet, operation.hazards if operation else (), going, usual)

    def _sprayed(self, row: JobRow, spray: Spray, sheet: people.SheetFact) -> Iterable[Bound]:
        yield from labels.untyped(spray.labels)
        if self.washed is None:
            self.washed = washed(self.holding.pk, self.kinds)
            self.posted = posted_sprays(self.holding.pk, [job for job in self.sprays if job in self.mine])
        crop = self.crops.get(row.season or 0, "")
        begun = [other for other in self.sprays.values() if other.job != row.id and _latest(other) >= self.oldest]
        carried = labels.carried(begun, self.washed, spray.machines) if spray.machines else []
        one = next(iter(spray.machines)) if len(spray.machines) == 1 else None
        yield from labels.tank(spray.labels, crop, carried, one)
        year, first, last = self._year(row)
        yield from labels.season_totals(spray, self.on_plot.get(row.plot, ()), first=first, last=last, year=year)
        hours = [label.entry_hours for label in spray.labels if label.entry_hours is not None]
        yield from people.signs(sheet, max(hours, default=None), row.id in self.posted)
        if not NO_CROP_YET & set(row.details.get("tags", ())):
            yield from self._tolerated(row, [one for one in spray.labels if not labels.goes_over(one, crop)])

    def _tolerated(self, row: JobRow, mix: Sequence[LabelFact]) -> Iterable[Bound]:
        """Over what was planted in the same season on the plot, part by part, by the lot that each report names.

        A spray of no season goes over all that was planted there since the year before."""
        if self.strips is None:
            sown = [
                other.id
                for other in self.rows.values()
                if other.operation in CROPS_SOWN and (self.folded[other.id].parts or self.folded[other.id].finished)
            ]
            found = planted_strips(self.holding.pk, self.rows, self.folded, sown)
            self.strips = defaultdict(list)
            for (plot, season), planted in found.items():
                self.strips[plot].append((season, planted))
        strips: list[labels.Strip] = []
        drawn = True
        for season, planted in self.strips.get(row.plot, ()):
            if season == row.season if row.season else planted.last >= self.oldest:
                strips += planted.strips
                drawn = drawn and planted.drawn
        left = None if row.acres is None else max(0.0, row.acres - self.folded[row.id].acres_done)
        yield from labels.tolerance(mix, strips, drawn=drawn, acres=left)

    def _contract(self, row: JobRow, terms: contracts.ContractTerms, sheet: people.SheetFact) -> Iterable[Bound]:
        yield from contracts.purpose(row.operation, terms, sheet.purpose)
        if row.operation in contracts.PLANTS and (terms.share is not None or terms.cap_acres is not None):
            yield from contracts.cap(row.operation, terms, self.covers.food_plots(terms.id))
        if self.covers.is_food_plot(row.plot):
            acres, narrowest_ft = self.covers.acres(row.plot), self.covers.narrowest_ft[row.plot]
            yield from contracts.least(row.operation, terms, acres, narrowest_ft)
        if row.operation in contracts.DISTURBS and terms.disturb_share is not None:
            year, first, last = self._year(row)
            others = [
                (other.plot, other.operation, self._disturbed(other))
                for other in self.rows.values()
                if other.id != row.id
                and other.operation in contracts.DISTURBS
                and terms.id in self.covers.get(other.plot, ())
                and self._begun_within(other.id, first, last)
            ]
            mine = (row.plot, row.operation, row.acres)
            yield from contracts.share(terms, others, mine, first=first, last=last, year=year)

    def _year(self, row: JobRow) -> tuple[int, int, int]:
        """The calendar year on the plot, and its [first, last) minutes."""
        year = local_day(row.zone, self.minute).year
        return year, day_start(row.zone, date(year, 1, 1)), day_start(row.zone, date(year + 1, 1, 1))

    def _begun_within(self, job: int, first: int, last: int) -> bool:
        told = self.folded[job]
        begun = told.started or told.finished
        return begun is not None and first <= begun.late < last

    def _disturbed(self, row: JobRow) -> float | None:
        """What is done of it; begun and not ended, all of it may be."""
        told = self.folded[row.id]
        return (told.acres_done or row.acres) if told.finished is not None else row.acres

    def _first_rain(self, row: JobRow, at: int, inches: float) -> int | None:
        """The end of the first day after `at` with so much observed rain on the property."""
        if self.rain is None:
            zones = {one.property: one.zone for one in self.mine.values()}
            sprayed = [spray.last for listed in self.on_plot.values() for spray in listed if spray.last is not None]
            today = local_day(self.holding.zone, self.minute)
            first = min(local_day(self.holding.zone, min(sprayed)), today)
            self.rain = curves({(place, RAIN) for place in zones}, zones, first - timedelta(days=1), today)
        return first_rain(self.rain.get((row.property, RAIN)), at, inches)

    def _crop_names(self) -> dict[int, str]:
        reads = SPRAYS | CROPS_SOWN
        seasons = {row.season for row in self.rows.values() if row.season is not None and row.operation in reads}
        rows = Season.objects.filter(holding_id=self.holding.pk, **few(pk__in=seasons))
        return {season: crop or "" for season, crop in rows.values_list("pk", "sequence__document__crop")}


def _latest(spray: Spray) -> int:
    return max((*spray.ends, spray.begun if spray.begun is not None else NEG))


def _season_of(row: JobRow) -> tuple[date, date] | None:
    if row.season_first is None or row.season_last is None:
        return None
    return row.season_first, row.season_last
