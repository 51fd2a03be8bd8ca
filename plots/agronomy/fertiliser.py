"""From what a soil report asks to bags on hand: legumes credited, the cheapest mix where there is a choice.

Amounts are lb an acre of nitrogen, phosphate (P2O5) and potash (K2O), which is what three numbers on a bag mean, in
percent. lb of material are lb of nutrient x 100 / percent (LSU AgCenter, Understanding Fertilizer, 2011)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from ortools.linear_solver import pywraplp

NUTRIENTS = ("N", "P2O5", "K2O")
TINY = 1e-7

Triple = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Bagged:
    """A material: its three percentages, what a pound costs, and the most pounds an acre that there are of it."""

    name: str
    analysis: Triple
    cost_per_lb: float = 1.0
    most_lb: float | None = None


@dataclass(frozen=True, slots=True)
class Blend:
    """Pounds an acre of each material in the order given, its cost an acre, and each nutrient's lack and excess."""

    lb: tuple[float, ...]
    cost: float
    short: Triple
    over: Triple


def analysis_of(text: str) -> Triple:
    """ "18-46-0" as percentages; ValueError where it is none or adds up to more than 100."""
    parts = text.strip().split("-")
    try:
        numbers = [float(part) for part in parts]
    except ValueError:
        numbers = []
    if len(numbers) != 3 or not all(0 <= number <= 100 for number in numbers) or not 0 < sum(numbers) <= 100:
        raise ValueError(
            f"'{text.strip()[:30]}' is no analysis. Give three percentages like 18-46-0, at most 100 in all."
        )
    return numbers[0], numbers[1], numbers[2]


def material_lb(nutrient_lb: float, percent: float) -> float:
    """Pounds of material that hold so many pounds of a nutrient."""
    return nutrient_lb * 100 / percent


def mixed(parts: Sequence[tuple[float, Triple]]) -> Triple:
    """The analysis of pounds of several materials mixed."""
    whole = sum(lb for lb, _ in parts)
    n, p, k = (sum(lb * analysis[at] for lb, analysis in parts) / whole for at in range(3))
    return n, p, k


def still_needed(need: Triple, share: float, credit_lb: float) -> Triple:
    """The need times the share of it that is to be given, less the nitrogen that a legume left."""
    n, p, k = (amount * share for amount in need)
    return max(0.0, n - credit_lb), p, k


def by_hand(need: Triple, phosphate: Triple, nitrogen: Triple, potash: Triple) -> Triple:
    """The rule of the thumb: phosphate first and its nitrogen credited, then nitrogen, then potash. Pounds of each.

    It never looks at prices or at what else the materials hold; `cheapest` does."""
    first = material_lb(need[1], phosphate[1])
    rest = max(0.0, need[0] - first * phosphate[0] / 100)
    return first, material_lb(rest, nitrogen[0]), material_lb(need[2], potash[2])


def cheapest(need: Triple, materials: Sequence[Bagged]) -> Blend:
    """The mix of least cost that meets the need as far as it can be met, by linear programming.

    First the lacks are made as small as the materials allow, each as a share of its need; then the cost is. Exact up
    to rounding; whole bags are no part of it. Of mixes that cost the same any one may come.
    """
    wanted = [at for at in range(3) if need[at] > 0]
    short = [0.0, 0.0, 0.0]
    lb = [0.0] * len(materials)
    if wanted and materials:
        lacks, _ = _solve(need, materials, wanted, None)
        _, lb = _solve(need, materials, wanted, lacks)
    given = [sum(lb[n] * one.analysis[at] / 100 for n, one in enumerate(materials)) for at in range(3)]
    over = [0.0, 0.0, 0.0]
    for at in range(3):
        left = need[at] - given[at]
        if left > TINY * max(1.0, need[at]):
            short[at] = left
        elif left < -TINY * max(1.0, given[at]):
            over[at] = -left
    cost = sum(pounds * one.cost_per_lb for pounds, one in zip(lb, materials, strict=True))
    return Blend(tuple(lb), cost, _triple(short), _triple(over))


def _solve(
    need: Triple, materials: Sequence[Bagged], wanted: Sequence[int], lacks: Sequence[float] | None
) -> tuple[list[float], list[float]]:
    """(lack of each wanted nutrient, pounds of each material): least lacks, or least cost at these lacks."""
    solver: Any = pywraplp.Solver.CreateSolver("GLOP")
    infinity = solver.infinity()
    pounds = [solver.NumVar(0, infinity if one.most_lb is None else one.most_lb, "") for one in materials]
    missing = []
    for n, at in enumerate(wanted):
        most = need[at] if lacks is None else 0.0 if lacks[n] <= TINY * need[at] else min(need[at], lacks[n] + TINY)
        lack = solver.NumVar(0, most, "")
        missing.append(lack)
        held = solver.Sum([x * (one.analysis[at] / 100) for x, one in zip(pounds, materials, strict=True)])
        solver.Add(held + lack >= need[at])
    if lacks is None:
        solver.Minimize(solver.Sum([lack * (1 / need[at]) for lack, at in zip(missing, wanted, strict=True)]))
    else:
        solver.Minimize(solver.Sum([x * one.cost_per_lb for x, one in zip(pounds, materials, strict=True)]))
    if solver.Solve() != solver.OPTIMAL:
        raise ArithmeticError("The mix could not be solved.")
    return [lack.solution_value() for lack in missing], [max(0.0, x.solution_value()) for x in pounds]


def _triple(values: Sequence[float]) -> Triple:
    n, p, k = values
    return n, p, k
