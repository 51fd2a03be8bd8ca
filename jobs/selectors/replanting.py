"""Keep the stand or plant again: what the published tables say, and which ways what was sprayed leaves open."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from core.models import Holding
from jobs.facts import Bound
from jobs.graph.arcs import RainClock
from jobs.graph.data import Curve, Rain
from jobs.law.data import CROPS_SOWN, SPRAYS, UNNAMED, Spray
from jobs.law.label import plant_backs
from jobs.minutes import day_end, day_start, floor_minute, local_day
from jobs.models import Branch, Job
from jobs.reference import reference, replant_data
from jobs.selectors.facts import Loaded, load
from jobs.selectors.facts.crops import replanted
from jobs.selectors.facts.law_rows import label_facts, mix_of
from jobs.selectors.facts.rows import job_rows
from jobs.selectors.facts.sprays import read_needs
from jobs.selectors.facts.told import folded_reports
from jobs.selectors.growth import Stand, stand_on
from jobs.selectors.past_days import past_days
from jobs.selectors.weather import RAIN, curves
from jobs.sentences import Names
from plots.agronomy.frost import LATE_SEED_SHARE, first_freezes, usable_days
from plots.agronomy.replant import Advice, Percent, advise, beans_kept
from plots.models import Plot

FREEZE_F = 32.0
DECIDES = "The label on the container decides what may follow; the tables are other fields' means."


@dataclass(frozen=True, slots=True)
class Asked:
    """What somebody counted and means to do: `stand` plants an acre, `on` the day of the replant, `gaps` "small" or
    "large", `expected_bu` bushels an acre of a full stand."""

    stand: float | None = None
    planted: date | None = None
    on: date | None = None
    crop: str = ""
    gaps: str = ""
    expected_bu: float | None = None


def replant_advice(holding: Holding, plot: Plot, asked: Asked, now: datetime) -> dict[str, Any]:
    """Yield kept and gained under each source, other published rules, and every way of the season with what closes
    it."""
    zone = plot.property.zone or holding.zone
    names = Names(zone=zone, year=now.year)
    today = local_day(zone, floor_minute(now))
    stand = stand_on(holding, plot)
    crop = asked.crop or (stand.crop.key if stand is not None and stand.crop is not None else "")
    planted = asked.planted or (stand.sown if stand is not None else None)
    on = asked.on or today
    kept, rules = [], []
    if asked.stand is not None and planted is not None:
        found = advise(
            replant_data(), crop, planted=planted, stand=asked.stand, replant_on=on, gaps=asked.gaps,
            expected_bu=asked.expected_bu,
        )  # fmt: skip
        kept = [_table(one) for one in found]
        rules = [_said(rule.source, rule.says) for rule in replant_data().rules if rule.holds(crop, on, asked.stand)]
    if crop == "soybean":
        rules += _beans(asked, planted, on)
    options = _options(holding, plot, stand, on, now, names)
    sorghum = _sorghum(plot, on, today)
    return {
        "plot": plot.pk,
        "name": plot.name,
        "crop": crop,
        "planted": planted,
        "stand": asked.stand,
        "on": on,
        "tables": kept,
        "rules": [*rules, *sorghum],
        "options": options,
        "decides": DECIDES,
        "sentence": _sentence(kept, options, asked, planted),
    }


def _sentence(kept: list[dict[str, Any]], options: list[dict[str, Any]], asked: Asked, planted: date | None) -> str:
    ways = [option["name"] for option in options if option["open"]]
    open_ways = f"Open ways: {', '.join(ways)}." if ways else "No way of a replant is open in this season's plan."
    if asked.stand is None or planted is None:
        return f"Count the stand and give its plants an acre to weigh it. {open_ways}"
    gains = [one for one in kept if one["gain_low"] is not None]
    if not gains:
        return f"No table reaches this stand and these days. {open_ways}"
    low, high = round(min(one["gain_low"] for one in gains)), round(max(one["gain_high"] for one in gains))
    much = f"{low}" if low == high else f"{low} to {high}"
    gain = f"gain {much} points" if low > 0 else f"lose {-low} points" if low == high < 0 else f"bring {much} points"
    return f"A replant would {gain} of the highest yield, by table. {open_ways}"


def _table(one: Advice) -> dict[str, Any]:
    source = reference().sources[one.table.source]
    gap = one.gap
    note = one.table.note
    if gap is not None:
        note = f"{note} With {gap.says}, which cost {_span(*gap.lost_pct)} %.".strip()
    return {
        "table": one.table.key,
        "name": one.table.name,
        "source": one.table.source,
        "source_title": source.title,
        "worth": source.worth,
        "kept_low": _figure(one.kept, "low"),
        "kept_high": _figure(one.kept, "high"),
        "replant_low": _figure(one.replant, "low"),
        "replant_high": _figure(one.replant, "high"),
        "gain_low": None if one.gain is None else round(one.gain[0], 1),
        "gain_high": None if one.gain is None else round(one.gain[1], 1),
        "between_cells": any(found is not None and found.between for found in (one.kept, one.replant)),
        "gaps_source": gap.source if gap is not None else "",
        "note": note,
        "sentence": _weighed(one, source.publisher or source.title),
    }


def _figure(found: Percent | None, end: str) -> float | None:
    return None if found is None else round(getattr(found, end), 1)


def _span(low: float, high: float) -> str:
    return f"{low:.0f}" if round(low) == round(high) else f"{low:.0f} to {high:.0f}"


def _weighed(one: Advice, who: str) -> str:
    left = "says nothing of this stand" if one.kept is None else f"{_span(one.kept.low, one.kept.high)} % kept"
    again = "does not reach the replant's day" if one.replant is None else (
        f"a full stand planted then {_span(one.replant.low, one.replant.high)} %"
    )  # fmt: skip
    return f"{one.table.name} ({who}): {left}; {again}."


def _said(source: str, says: str) -> dict[str, Any]:
    known = reference().sources[source]
    return {"source": source, "source_title": known.title, "worth": known.worth, "sentence": says}


def _beans(asked: Asked, planted: date | None, on: date) -> list[dict[str, Any]]:
    data, found = replant_data(), []
    if asked.stand is not None:
        for row, told in beans_kept(data, asked.stand):
            bushels = "" if asked.expected_bu is None else f", {asked.expected_bu * row.kept_pct / 100:.0f} bu an acre"
            says = f"{row.stand:g},000 plants an acre keep {row.kept_pct:g} % of what {row.full:g},000 yield{bushels}."
            found.append(_said(row.source, says if told else f"{says} Of fewer plants nothing is published here."))
    for delay in data.bean_delays:
        lost = delay.lost_bu(on) - (delay.lost_bu(planted) if planted is not None else 0.0)
        found.append(_said(delay.source, f"{delay.says} Planted on {on.day} {on:%b}: {lost:g} bu less."))
    found.append(_said(data.bean_last.source, data.bean_last.says))
    return found


def _sorghum(plot: Plot, on: date, today: date) -> list[dict[str, Any]]:
    """Days to ripeness of the longest hybrid of sorghum that still makes it, by the station's mean first freeze."""
    days = past_days([plot.property_id], today)[plot.property_id].days
    freezes = first_freezes({day: told[1] for day, told in days.items() if told[1] is not None}, FREEZE_F)
    mean = freezes.mean_day(on.year)
    if mean is None:
        return []
    left = usable_days(on, mean)
    hybrid = f"a hybrid of {left} days to ripeness at most" if left > 0 else "no hybrid any more"
    more = f"{(LATE_SEED_SHARE - 1) * 100:.0f} % more seed when late"
    day, cold = f"{on.day} {on:%b}", f"{mean.day} {mean:%b}"
    says = f"Grain sorghum planted on {day}: {hybrid} (mean first freeze {cold}, less 10 days); {more}."
    return [_said("sorghum-bean-2020", says)]


def _options(
    holding: Holding, plot: Plot, stand: Stand | None, on: date, now: datetime, names: Names
) -> list[dict[str, Any]]:
    """Every way of the plot's seasons that is a replant: its last day, and what was sprayed that closes it."""
    branches = Branch.objects.filter(holding=holding, season__plot=plot, season__called_off_at=None).order_by(
        "order", "id"
    )
    if stand is not None and stand.row.season is not None:
        branches = branches.filter(season_id=stand.row.season)
    listed = [branch for branch in branches if branch.option]
    if not listed:
        return []
    jobs = list(Job.objects.filter(branch__in=listed, operation__in=CROPS_SOWN).order_by("id"))
    loaded = load(holding, now, {job.component for job in jobs})
    sprays = _sprays(holding, plot)
    found = []
    for branch in listed:
        own = [job for job in jobs if job.branch_id == branch.pk]
        closers = _closers(loaded, branch, own, sprays, plot, names, now)
        last = date.fromisoformat(branch.option["last_day"]) if branch.option.get("last_day") else None
        begins = day_start(names.zone, on)
        shut = [one for one in closers if one["until"] is None or one["until"] > begins]
        late = last is not None and on > last
        source = reference().sources.get(branch.option.get("source", ""))
        found.append(
            {
                "branch": branch.pk,
                "name": branch.name or branch.key,
                "jobs": [job.pk for job in own],
                "last_day": last,
                "source": branch.option.get("source", ""),
                "source_title": source.title if source is not None else "",
                "open": not shut and not late and branch.called_off_at is None,
                "closed_by": [{k: v for k, v in one.items() if k != "until"} for one in shut],
                "sentence": _option_words(branch, shut, last, late, names),
            }
        )
    return found


def _option_words(branch: Branch, shut: list[dict[str, Any]], last: date | None, late: bool, names: Names) -> str:
    name = branch.name or branch.key
    until = "" if last is None else f", last day {names.day(day_start(names.zone, last))}"
    if branch.called_off_at is not None:
        return f"{name}: called off."
    if shut:
        return f"{name}: closed. {' '.join(one['sentence'] for one in shut)}"
    return f"{name}: too late{until}." if late else f"{name}: open{until}."


def _closers(
    loaded: Loaded, branch: Branch, own: Iterable[Job], sprays: list[Spray], plot: Plot, names: Names, now: datetime
) -> list[dict[str, Any]]:
    """What was sprayed that closes the way: by its own list of active ingredients, and by the waits of the labels."""
    found: dict[tuple[str, str], dict[str, Any]] = {}
    active = loaded.closed_branches.get(branch.pk)
    if active is not None:
        found["active", active] = _closer(
            active, None, "", f"{active.capitalize()} was sprayed here. The label decides."
        )
    minute = floor_minute(now)
    by_material = {label.material: label.name for spray in sprays for label in spray.labels}
    for job in own:
        for spray in loaded.facts.jobs[job.pk].sprayed:
            if spray.until is not None and spray.until <= minute:
                continue
            end = "" if spray.until is None else f" It ends on {names.day(spray.until)}."
            note = f" {spray.note}" if spray.note else ""
            says = f"{spray.active.capitalize()} was sprayed on {names.day(spray.at)}.{note}{end}"
            found["active", spray.active] = _closer(spray.active, spray.until, spray.source, says)
        crop = replanted(job.step)
        for bound in plant_backs(crop, sprays, lambda at, inches: _rain_after(plot, names.zone, at, inches, now)):
            name = by_material[bound.inputs.get("material", UNNAMED.material)]
            found["label", f"{name} {bound.kind}"] = _of_label(name, bound, names)
    return list(found.values())


def _of_label(name: str, bound: Bound, names: Names) -> dict[str, Any]:
    told = bound.inputs
    when = names.day(told["since"])
    if "material" not in told:
        says = f"On {when} there was {name}: name it, for its label says when {told['crop'] or 'this crop'} may follow."
        return _closer(name, None, bound.source, says)
    if bound.kind == "label":
        says = f"{name} was sprayed on {when}: type its label's wait for {told['crop'] or 'this crop'}."
        return _closer(name, None, bound.source, says)
    days = f"{told['days']:g} days"
    if bound.report == "rain":
        says = (
            f"{name} was sprayed on {when}: {days} after {told['rain_in']:g} in of rain on one day, which has not come."
        )
        return _closer(name, None, bound.source, says)
    return _closer(name, bound.last, bound.source, f"{name} was sprayed on {when}: its label asks for {days}.")


def _closer(name: str, until: int | None, source: str, says: str) -> dict[str, Any]:
    known = reference().sources.get(source)
    return {
        "what": name, "until": until, "source": source,
        "source_title": known.title if known is not None else source, "sentence": says,
    }  # fmt: skip


def _sprays(holding: Holding, plot: Plot) -> list[Spray]:
    """All sprays of the plot that were reported, with their labels; nobody named a product: with one not known."""
    jobs = Job.objects.filter(holding=holding, plot=plot, operation__in=SPRAYS, reports__isnull=False)
    ids = set(jobs.values_list("pk", flat=True))
    if not ids:
        return []
    rows, needs = job_rows(holding, jobs=ids), read_needs(holding.pk, job__in=ids)
    told = folded_reports(holding.pk, rows, job__in=ids)
    materials = {need["material_id"] for listed in needs.values() for need in listed if need["material_id"] is not None}
    labels = label_facts(holding.pk, materials)
    crops = dict(jobs.values_list("pk", "season__sequence__document__crop"))
    found = []
    for job, row in sorted(rows.items()):
        ends = {part.at.late for part in told[job].parts}
        finished = told[job].finished
        if finished is not None:
            ends.add(finished.late)
        mix = mix_of(needs.get(job, ()), labels)
        residual = "residual" in row.details.get("tags", ())
        if ends and mix:
            found.append(
                Spray(job, row.plot, mix, ends=tuple(sorted(ends)), crop=crops.get(job) or "", residual=residual)
            )
    return found


def _rain_after(plot: Plot, zone: str, at: int, inches: float, now: datetime) -> int | None:
    """The end of the first day after an instant with so much observed rain."""
    place = plot.property_id, RAIN
    today = local_day(zone, floor_minute(now))
    curve: Curve | None = curves({place}, {plot.property_id: zone}, local_day(zone, at), today).get(place)
    if curve is None:
        return None
    hundredths = round(inches * 100)
    end = RainClock(curve, Rain(0, hundredths)).reach(at, hundredths)
    return end if end <= day_end(zone, today) else None
