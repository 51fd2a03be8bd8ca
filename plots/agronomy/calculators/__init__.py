"""The calculators a person uses while working: one table of them, from the shipped data. Pure.

Each is asked by the API, on a page and in a job's own sheet, and gives the same figures in all three.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from plots.agronomy.calculators import machines, rounds, seeds, soil, spraying
from plots.agronomy.calculators.spec import Calculator, Caution, Figure, Given, Source, Worked
from plots.agronomy.entries import Absurd, Entry

__all__ = [
    "Absurd",
    "Calculator",
    "Caution",
    "Figure",
    "MachineDefault",
    "Shelf",
    "Source",
    "Worked",
    "read_calculators",
]


@dataclass(frozen=True, slots=True)
class MachineDefault:
    """Field efficiency and speed of a kind of machine whose own figures nobody typed."""

    efficiency_pct: float
    speed_mph: float
    source: Source


@dataclass(frozen=True, slots=True)
class Shelf:
    """All calculators by key, in the order of the file, with the defaults of machines and common analyses."""

    calculators: Mapping[str, Calculator]
    machines: Mapping[str, MachineDefault]
    analyses: Mapping[str, str]

    def for_operation(self, operation: str) -> list[Calculator]:
        """Those that belong to a field operation."""
        return [one for one in self.calculators.values() if operation in one.operations]


def read_calculators(text: str, sources: str, cautions: str) -> Shelf:
    """The calculators of the shipped files: the table, the sources and the cautions, as TOML.

    Raises:
        KeyError: a calculator without a rule, a rule without its calculator, an unknown source or hazard.
    """
    data, known, hazards = (tomllib.loads(file) for file in (text, sources, cautions))
    rules = _rules(data["legume"])
    if set(rules) != set(data["calculator"]):
        raise KeyError(f"Calculators and rules differ: {sorted(set(rules) ^ set(data['calculator']))}.")

    def source(key: str) -> Source:
        return Source(key, known[key]["title"], known[key]["worth"])

    def caution(key: str) -> Caution:
        return Caution(key, tuple(hazards[key]["lines"]), hazards[key]["decides"])

    credits = [row["source"] for row in data["legume"].values() if row["source"] != "manager"]
    found = {}
    for key, row in data["calculator"].items():
        entries, rule = rules[key]
        named = [*row["sources"], *(credits if key == "fertiliser" else ())]
        found[key] = Calculator(
            key,
            row["name"],
            row["purpose"],
            entries,
            rule,
            frozenset(row["operations"]),
            tuple(source(one) for one in dict.fromkeys(named)),
            tuple(caution(one) for one in row["hazards"]),
            row.get("note", ""),
        )
    kinds = {
        kind: MachineDefault(row["efficiency"], row["speed_mph"], source(row["source"]))
        for kind, row in data["machine"].items()
    }
    return Shelf(found, kinds, dict(data["analysis"]))


def _rules(legumes: Mapping[str, Mapping[str, Any]]) -> dict[str, tuple[tuple[Entry, ...], Callable[[Given], Worked]]]:
    return {
        "machine-hours": (machines.HOURS, machines.hours),
        "travel-speed": (machines.TRAVEL, machines.travel),
        "sprayer-output": (spraying.BOOM, spraying.boom),
        "sprayer-catch": (spraying.CATCH, spraying.catch),
        "sprayer-tanks": (spraying.TANK, spraying.loads),
        "spray-rate": (spraying.ACID, spraying.acid),
        "seed": (seeds.TAG, seeds.tag),
        "planter": (seeds.PLANTER, seeds.planter),
        "stand-count": (seeds.COUNTS, seeds.counted),
        "stand-walk": (seeds.WALK, seeds.walked),
        "fertiliser": (soil.bags_entries(legumes), soil.bags_rule(legumes)),
        "fertiliser-mix": (soil.MIX, soil.mix),
        "lime": (soil.LIME, soil.lime_rule),
        "fence": (rounds.FENCE, rounds.fenced),
        "degree-days": (rounds.DAYS, rounds.summed),
        "feed-round": (rounds.FEED, rounds.round_of_feed),
    }
