"""What labels ask: entry after a spray, waits, tolerance of the seed, what the sprayer carries, sums of a year.

Sources: 40 CFR 170 (no entry before the interval has passed; the longest of a mix governs), the label in hand.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from jobs.facts import Bound
from jobs.graph.data import NEG
from jobs.law.data import LabelFact, Spray, crop_name

HOUR, DAY = 60, 1440
LABEL, ENTRY_LAW = "label-law", "40-cfr-170"
LONGEST_WAIT = 1095 * DAY
"""So long a residual whose wait nobody typed is asked about (a setting of ours)."""
TILLS, MOWS = frozenset({"till"}), frozenset({"mow", "firebreak"})


def entry(job: int, round_id: int | None, sprays: Iterable[Spray]) -> Iterator[Bound]:
    """Nobody but the crew of the spray enters the plot from its begin until the longest interval of the mix has passed.

    The clock starts at the end of the application as reported, of each part by itself; the last part is the strictest.
    Jobs of the same round are the spray going on, done by its handlers. An interval that nobody typed never ends by
    itself: it is asked for."""
    for spray in sprays:
        if spray.job == job or (round_id is not None and spray.round == round_id):
            continue
        if spray.begun is not None and not spray.finished and not spray.ends:
            yield Bound(
                "entry", f"spray:{spray.job}", spray.begun, source=ENTRY_LAW, job=spray.job, report="done",
                inputs={"spray": spray.job},
            )  # fmt: skip
        if spray.last is None:
            continue
        known = [label for label in spray.labels if label.entry_hours is not None]
        for label in spray.labels:
            if label.entry_hours is None:
                rule, inputs = _of(spray, label)
                yield Bound("label", rule, spray.last, source=LABEL, who="manager", inputs=inputs)
        if known:
            longest = max(known, key=lambda label: (label.entry_hours or 0.0, -label.material))
            hours = longest.entry_hours or 0.0
            until = spray.last + math.ceil(hours * HOUR)
            if until > spray.last:
                yield Bound(
                    "entry", f"label:{longest.material}", min(spray.ends), until, source=longest.source or ENTRY_LAW,
                    inputs={
                        "spray": spray.job, "material": longest.material, "hours": hours, "since": spray.last,
                        "mix": {str(label.material): label.entry_hours for label in spray.labels},
                        "parts": [end + math.ceil(hours * HOUR) for end in spray.ends],
                    },
                )  # fmt: skip


def _of(spray: Spray, label: LabelFact) -> tuple[str, dict[str, Any]]:
    """The rule behind a hold by a label of a spray, and its inputs: without a product the spray itself."""
    inputs: dict[str, Any] = {"spray": spray.job, "since": spray.last}
    if not label.named:
        return f"spray:{spray.job}", inputs
    return f"label:{label.material}", inputs | {"material": label.material}


def untyped(labels: Iterable[LabelFact]) -> Iterator[Bound]:
    """A spray whose label's entry time nobody typed: typed first, or gone on with for a written reason."""
    for label in labels:
        if label.entry_hours is None:
            yield Bound(
                "label", f"label:{label.material}", source=LABEL, who="manager", inputs={"material": label.material}
            )


def waits(operation: str, sprays: Iterable[Spray]) -> Iterator[Bound]:
    """Days before the ground may be tilled or the plants mown after a spray."""
    for spray in sprays:
        if spray.last is None:
            continue
        for label in spray.labels:
            days = label.till_wait_days if operation in TILLS else label.mow_wait_days if operation in MOWS else None
            if days:
                yield Bound(
                    "label_wait", f"label:{label.material}", spray.last, spray.last + math.ceil(days * DAY),
                    source=label.source or LABEL,
                    inputs={"spray": spray.job, "material": label.material, "days": days, "since": spray.last},
                )  # fmt: skip


FirstRain = Callable[[int, float], int | None]
"""The end of the first day after a minute with so many inches of observed rain; None as long as there is none."""


def plant_backs(crop: str, sprays: Iterable[Spray], first_rain: FirstRain) -> Iterator[Bound]:
    """The label's waits before this crop may be planted, the crop itself before "any other", which the crop that was
    sprayed for never is.

    A clock that needs rain does not begin before it fell. A crop that the label leaves out is no leave: a residual, a
    label that names other crops and a product that nobody named are asked about, except for the crop that it was
    sprayed for. A wait of an unknown name is kept before every crop, and answers for none."""
    name = crop_name(crop)
    for spray in sprays:
        if spray.last is None:
            continue
        for label in spray.labels:
            own = bool(name) and name == crop_name(spray.crop)
            wait = label.plant_back.get(name) or (None if own else label.plant_back.get(""))
            least = label.plant_back_at_least
            (rule, inputs), source = _of(spray, label), label.source or LABEL
            inputs["crop"] = name
            asks = spray.residual or label.plant_back or least or not label.named
            if wait is None and asks and not own:
                until = spray.last + LONGEST_WAIT
                yield Bound("label", rule, spray.last, until, LABEL, who="manager", inputs=inputs)
            wait = wait.or_longer(least) if wait is not None else least
            if wait is None:
                continue
            inputs = inputs | {"days": wait.days}
            if wait.after_rain_in is None:
                begun: int | None = spray.last
            else:
                begun, inputs = first_rain(spray.last, wait.after_rain_in), inputs | {"rain_in": wait.after_rain_in}
            if begun is None:
                yield Bound("label_wait", rule, spray.last, source=source, report="rain", inputs=inputs)
            elif wait.days or wait.after_rain_in is not None:
                inputs |= {"begun": begun}
                yield Bound("label_wait", rule, spray.last, begun + math.ceil(wait.days * DAY), source, inputs=inputs)


@dataclass(frozen=True, slots=True)
class Strip:
    """Acres planted with one lot; lot None: nobody said which. `tolerates` are actives that its crop stands."""

    acres: float | None
    lot: int | None = None
    number: str = ""
    tolerates: frozenset[str] = frozenset()


def goes_over(label: LabelFact, crop: str) -> bool:
    """Whether the label names the crop among those it may be sprayed over, whatever their lot."""
    return "*" in label.over_crops or (bool(crop) and crop_name(crop) in label.over_crops)


def tolerance(
    labels: Sequence[LabelFact], strips: Sequence[Strip], *, drawn: bool, acres: float | None
) -> Iterator[Bound]:
    """A spray over a standing crop may only carry actives that every lot under it stands; what is unknown stands none.

    Where the strips are drawn (somebody staked or mapped them since the last was planted), the rest of the plot may be
    sprayed: a job of no more acres than that is free. Until then all of it is held."""
    for active in sorted({active for label in labels for active in label.actives}):
        bad = [strip for strip in strips if active not in strip.tolerates]
        if not bad:
            continue
        sizes = [strip.acres for strip in strips]
        whole = None if None in sizes else math.fsum(size for size in sizes if size is not None)
        blocked = None if None in [s.acres for s in bad] else math.fsum(s.acres for s in bad if s.acres is not None)
        free = 0.0 if whole is None or blocked is None else whole - blocked
        if drawn and acres is not None and free > 0 and acres <= free + 1e-6:
            continue
        inputs = {
            "active": active,
            "blocked": blocked,
            "planted": whole,
            "free": round(free, 4),
            "drawn": drawn,
            "lots": sorted({strip.number or "not said" for strip in bad}),
        }
        only_border = not drawn and free > 0
        yield Bound(
            "tolerance", f"active:{active}", source=LABEL, inputs=inputs,
            report="strips_drawn" if only_border else "", who="" if only_border else "manager",
        )  # fmt: skip


def tank(
    labels: Sequence[LabelFact], crop: str, carried: Iterable[tuple[int, LabelFact]], machine: int | None
) -> Iterator[Bound]:
    """What the sprayer still carries, and must be washed out of it before this crop. Unknown is no.

    `carried` are (when, label) of every material since the last washing; the same material again asks for none."""
    mine = {label.material for label in labels}
    told: set[int] = set()
    for at, label in carried:
        if label.material in mine or label.material in told:
            continue
        named = "*" in label.wash_before or crop.lower() in label.wash_before or (not crop and bool(label.wash_before))
        if label.wash_known and not named:
            continue
        told.add(label.material)
        inputs = {"material": label.material, "crop": crop, "since": at, "known": label.wash_known}
        yield Bound(
            "tank", f"label:{label.material}", source=label.source or LABEL, report="sprayer_washed",
            inputs=inputs | ({"machine": machine} if machine is not None else {}),
        )  # fmt: skip


def season_totals(planned: Spray, before: Iterable[Spray], *, first: int, last: int, year: int) -> Iterator[Bound]:
    """The sum of an active per acre and calendar year, with this job's own: above the label's maximum is a stop.

    [first, last) is the year on the plot. A spray whose rate or content nobody typed makes the sum unknown, which is no
    leave. The least of the maxima of the labels in the mix and before counts."""
    year_sprays = [s for s in before if s.last is not None and first <= s.last < last and s.job != planned.job]
    for active in sorted({active for label in planned.labels for active in label.actives}):
        mine = [label for spray in (planned, *year_sprays) for label in spray.labels if active in label.actives]
        most = [s.season_most for label in mine if (s := label.shares.get(active)) and s.season_most is not None]
        if not most:
            continue
        units = {share.unit for label in mine if (share := label.shares.get(active))}
        parts = [amount(spray, active) for spray in (*year_sprays, planned)]
        unknown = None in parts or len(units) > 1
        total = math.fsum(part for part in parts if part is not None)
        if unknown or total > min(most) * (1 + 1e-9):
            label = next(label for label in planned.labels if active in label.actives)
            yield Bound(
                "season_total", f"label:{label.material}", first if year_sprays else NEG, last,
                source=label.source or LABEL, who="manager",
                inputs={
                    "active": active, "most": min(most), "unit": " or ".join(sorted(units)), "year": year,
                    "sum": None if unknown else round(total, 6), "planned": parts[-1],
                    "sprays": [spray.job for spray in year_sprays],
                },
            )  # fmt: skip


def amount(spray: Spray, active: str) -> float | None:
    """Of an active per acre, in the label's unit; None where a rate or a content is not known."""
    total = 0.0
    for label in spray.labels:
        if active not in label.actives:
            continue
        share, rate = label.shares.get(active), spray.rates.get(label.material)
        if share is None or rate is None:
            return None
        total += share.per_unit * rate
    return total


def carried(
    sprays: Iterable[Spray], washed: Mapping[int, int], machines: Collection[int]
) -> list[tuple[int, LabelFact]]:
    """(when, label) of all that went through one of these machines since it was washed, the latest first.

    A spray whose machine is not known may have been with any of them; so it counts, until all of them are washed."""
    found = []
    for spray in sprays:
        at = spray.last if spray.last is not None else spray.begun
        through = (spray.machines or frozenset(machines)) & frozenset(machines)
        if at is not None and any(washed.get(machine, NEG) < at for machine in through):
            found += [(at, label) for label in spray.labels]
    return sorted(found, key=lambda pair: (-pair[0], pair[1].material))
