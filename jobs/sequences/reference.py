"""Sources, field operations, cautions and crops: the words that sequences may use, read from their four texts."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from jobs.sequences.spec import DurationRule, SequenceError

WORTHS = ("published", "common practice", "from memory", "weak")
HAZARDS = ("fire", "pesticide", "machine", "electric_fence", "heat", "lone_work")


@dataclass(frozen=True, slots=True)
class Source:
    """Where a figure comes from and what it is worth, one of WORTHS."""

    key: str
    title: str
    publisher: str
    year: str
    worth: str


@dataclass(frozen=True, slots=True)
class Operation:
    """A kind of field operation. `do`, `doing`, `done` are its words for sentences: "mow", "mowing", "mown".

    `weather` says that its hours depend on the weather, so that without a forecast they are unknown."""

    key: str
    name: str
    do: str
    doing: str
    done: str
    weather: bool
    hazards: tuple[str, ...]
    least_crew: int
    duration: DurationRule
    duration_worth: str
    machines: tuple[str, ...]
    materials: tuple[str, ...]
    skills: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Caution:
    """What to heed in work with one hazard: short lines, and the line that says who decides."""

    hazard: str
    lines: tuple[str, ...]
    decides: str
    source: str


@dataclass(frozen=True, slots=True)
class CropValue:
    """One figure of a crop, low to high in a unit, with its source and worth."""

    name: str
    low: float
    high: float
    unit: str
    source: str
    worth: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Crop:
    """A crop; `degree_days` is its way of counting ("86/50", or a base such as "50"), empty if none is known."""

    key: str
    name: str
    degree_days: str
    values: tuple[CropValue, ...]
    botanical: str = ""


@dataclass(frozen=True, slots=True)
class Reference:
    """All words that a sequence may use, by key. the plain mappings give the words of each kind."""

    sources: Mapping[str, Source]
    operations: Mapping[str, Operation]
    observations: Mapping[str, str]
    limits: Mapping[str, str]
    machines: Mapping[str, str]
    materials: Mapping[str, str]
    cautions: Mapping[str, Caution]
    crops: Mapping[str, Crop]


def read_reference(sources: str, operations: str, cautions: str, crops: str) -> Reference:
    """The reference of four TOML texts; SequenceError lists what is wrong in them."""
    faults: list[str] = []
    known = {key: Source(key=key, **row) for key, row in tomllib.loads(sources).items()}
    faults += [f"Source {s.key} has the worth '{s.worth}'." for s in known.values() if s.worth not in WORTHS]
    table = tomllib.loads(operations)
    ops = {key: _operation(key, row) for key, row in table["operation"].items()}
    heeds = {key: _caution(key, row) for key, row in tomllib.loads(cautions).items()}
    grown = {key: _crop(key, row, known) for key, row in tomllib.loads(crops).items()}
    for op in ops.values():
        unknown = [kind for kind in op.machines if kind not in table["machine"]]
        unknown += [kind for kind in op.materials if kind not in table["material"]]
        faults += [f"Operation {op.key} takes '{kind}', which is no known machine or material." for kind in unknown]
        faults += [f"Operation {op.key} has the unknown hazard '{h}'." for h in op.hazards if h not in HAZARDS]
        faults += [f"Operation {op.key} has the hazard {h} without cautions." for h in op.hazards if h not in heeds]
        if op.duration_worth not in WORTHS:
            faults.append(f"The rate of work of {op.key} has the worth '{op.duration_worth}'.")
    faults += [f"The cautions for {c.hazard} name no known source." for c in heeds.values() if c.source not in known]
    for crop in grown.values():
        for value in crop.values:
            if value.source not in known:
                faults.append(f"{crop.name}, {value.name}: the source '{value.source}' is unknown.")
            if value.worth not in WORTHS:
                faults.append(f"{crop.name}, {value.name}: the worth '{value.worth}' is unknown.")
            if value.low > value.high:
                faults.append(f"{crop.name}, {value.name}: {value.low:g} lies above {value.high:g}.")
    if faults:
        raise SequenceError("Reference data", faults)
    return Reference(
        sources=known,
        operations=ops,
        observations=table["observation"],
        limits=table["limit"],
        machines=table["machine"],
        materials=table["material"],
        cautions=heeds,
        crops=grown,
    )


def duration_rule(row: Mapping[str, Any]) -> DurationRule:
    """A duration rule from its table; a ValueError in plain words if it is none."""
    rule = DurationRule(row.get("minutes", 0), row.get("acres_per_hour"), row.get("feet_per_hour"))
    rates = [rate for rate in (rule.acres_per_hour, rule.feet_per_hour) if rate is not None]
    if row.keys() - {"minutes", "acres_per_hour", "feet_per_hour", "worth"}:
        raise ValueError("a duration is given by minutes, acres_per_hour or feet_per_hour.")
    if not isinstance(rule.minutes, int) or rule.minutes < 0 or any(rate <= 0 for rate in rates):
        raise ValueError("minutes are whole and not below 0, rates of work lie above 0.")
    return rule


def _operation(key: str, row: Mapping[str, Any]) -> Operation:
    return Operation(
        key=key,
        name=row["name"],
        do=row["do"],
        doing=row["doing"],
        done=row["done"],
        weather=row["weather"],
        hazards=tuple(row["hazards"]),
        least_crew=row.get("least_crew", 1),
        duration=duration_rule(row["duration"]),
        duration_worth=row["duration"]["worth"],
        machines=tuple(row.get("machines", ())),
        materials=tuple(row.get("materials", ())),
        skills=tuple(row.get("skills", ())),
    )


def _caution(key: str, row: Mapping[str, Any]) -> Caution:
    return Caution(hazard=key, lines=tuple(row["lines"]), decides=row["decides"], source=row["source"])


def _crop(key: str, row: Mapping[str, Any], sources: Mapping[str, Source]) -> Crop:
    values = []
    for name, value in row.get("values", {}).items():
        source = value.get("source", "")
        worth = value.get("worth") or (sources[source].worth if source in sources else "")
        low = value["low"]
        high = value.get("high", low)
        values.append(CropValue(name, low, high, value["unit"], source, worth, value.get("note", "")))
    return Crop(key, row["name"], row.get("degree_days", ""), tuple(values), row.get("botanical", ""))
