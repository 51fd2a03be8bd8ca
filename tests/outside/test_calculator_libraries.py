"""The calculators against general libraries over wide random ranges: scipy, pint, GEOS.

Each test prints the largest difference that it found. Acres and lengths of plots stand against PROJ in
`test_shapes_against_libraries`."""

from __future__ import annotations

import math
import random

import numpy as np
import pint
import pytest
import shapely
from scipy.optimize import linprog

from plots.agronomy.fence import outside, square_sides
from plots.agronomy.fertiliser import Bagged, Triple, by_hand, cheapest
from plots.agronomy.measures import FACTORS, TEMPERATURES, convert
from plots.capacity import acres_per_hour
from plots.units import ACRE_SQ_FT

MIXES = 2_000

NAMES = {
    "ft": "foot", "in": "inch", "yd": "yard", "mi": "mile", "m": "meter", "cm": "centimeter", "mm": "millimeter",
    "km": "kilometer", "ac": "43560 * foot**2", "ha": "hectare", "sq ft": "foot**2", "sq m": "meter**2", "mph": "mph",
    "km/h": "kilometer/hour", "ft/min": "foot/minute", "m/s": "meter/second", "gal": "gallon", "qt": "quart",
    "pt": "pint", "fl oz": "fluid_ounce", "L": "liter", "mL": "milliliter", "lb": "pound", "oz": "ounce",
    "ton": "short_ton", "kg": "kilogram", "g": "gram", "t": "metric_ton", "psi": "psi", "kPa": "kilopascal",
    "bar": "bar", "gpm": "gallon/minute", "fl oz/min": "fluid_ounce/minute", "L/min": "liter/minute", "s": "second",
    "min": "minute", "h": "hour", "days": "day", "weeks": "week", "%": "percent", "share": "dimensionless",
    "lb/day": "pound/day", "kg/day": "kilogram/day", "lb/ton": "pound/short_ton", "kg/t": "kilogram/metric_ton",
    "lb/gal": "pound/gallon", "kg/L": "kilogram/liter", "g/L": "gram/liter",
}  # fmt: skip
"""Our units as pint calls them. An acre is 43,560 international square feet; pint's own is of survey feet."""
COUNTED = {"$", "seeds", "kernels", "pieces"}


def named(unit: str) -> str | None:
    if unit in NAMES:
        return NAMES[unit]
    above, _, below = unit.rpartition("/")
    return None if above in COUNTED or unit in COUNTED else f"({NAMES[above]}) / ({NAMES[below]})"


def test_every_unit_turns_into_every_other_as_pint_does() -> None:
    registry: pint.UnitRegistry = pint.UnitRegistry()
    random_ = random.Random(11)
    worst, checked = 0.0, 0
    for units in FACTORS.values():
        for unit in units:
            for to in units:
                if named(unit) is None or named(to) is None:
                    continue
                value = 10 ** random_.uniform(-6, 6)
                expected = float((value * registry(named(unit))).to(registry(named(to)).units).magnitude)
                expected /= float(registry(named(to)).magnitude)
                worst = max(worst, abs(convert(value, unit, to) / expected - 1))
                checked += 1
    assert checked > 500
    print(f"\n{checked} pairs of units: largest relative difference to pint {worst:.1e}")
    assert worst < 1e-12


def test_temperatures_turn_as_pint_turns_them() -> None:
    registry: pint.UnitRegistry = pint.UnitRegistry()
    names = dict(zip(TEMPERATURES, ("degF", "degC"), strict=True))
    worst = 0.0
    for value in range(-80, 131):
        for unit, to in (TEMPERATURES, TEMPERATURES[::-1]):
            expected = registry.Quantity(float(value), names[unit]).to(names[to]).magnitude
            worst = max(worst, abs(convert(value, unit, to) - expected))
    print(f"\nlargest difference of temperatures to pint {worst:.1e} degrees")
    assert worst < 1e-10


def test_field_capacity_is_width_by_speed_in_pint() -> None:
    registry: pint.UnitRegistry = pint.UnitRegistry()
    random_ = random.Random(12)
    worst = 0.0
    for _ in range(300):
        width, speed, share = random_.uniform(0.5, 120), random_.uniform(0.5, 20), random_.uniform(0.1, 1)
        rate = (width * registry.foot * speed * registry.mph).to("foot**2/hour").magnitude / ACRE_SQ_FT * share
        worst = max(worst, abs(acres_per_hour(width, speed, share) / rate - 1))
    print(f"\nlargest relative difference of field capacity to pint {worst:.1e}")
    assert worst < 1e-12


def scipy_cost(need: Triple, materials: list[Bagged]) -> tuple[float | None, float]:
    """(least cost with no lack, None where there is none; least sum of lacks as shares of their needs) by HiGHS."""
    wanted = [at for at in range(3) if need[at] > 0]
    held = np.array([[one.analysis[at] / 100 for one in materials] for at in wanted])
    most = [(0, one.most_lb) for one in materials]
    needs = np.array([need[at] for at in wanted])
    costs = [one.cost_per_lb for one in materials]
    whole = linprog(costs, A_ub=-held, b_ub=-needs, bounds=most, method="highs")
    lacking = linprog(
        [0.0] * len(materials) + [1 / amount for amount in needs],
        A_ub=-np.hstack([held, np.eye(len(wanted))]),
        b_ub=-needs,
        bounds=[*most, *((0, amount) for amount in needs)],
        method="highs",
    )
    assert lacking.status == 0
    return (whole.fun if whole.status == 0 else None), lacking.fun


def random_mix(random_: random.Random) -> tuple[Triple, list[Bagged]]:
    n, p, k = (random_.choice((0.0, random_.uniform(5, 300))) for _ in range(3))
    materials = []
    for number in range(random_.randint(1, 7)):
        grade = [random_.choice((0, 0, random_.randint(1, 33))) for _ in range(3)]
        if random_.random() < 0.4:
            grade = [0, 0, 0]
            grade[random_.randrange(3)] = random_.randint(10, 90)
        most = random_.choice((None, None, random_.uniform(0, 600)))
        materials.append(Bagged(f"{number}", (grade[0], grade[1], grade[2]), random_.uniform(0.05, 3), most))
    return (n, p, k), materials


def test_the_cheapest_mix_costs_what_scipy_finds() -> None:
    random_ = random.Random(13)
    worst_cost, worst_lack, met, short = 0.0, 0.0, 0, 0
    for _ in range(MIXES):
        need, materials = random_mix(random_)
        if not any(need):
            continue
        ours = cheapest(need, materials)
        cost, lacks = scipy_cost(need, materials)
        own = sum(lack / amount for lack, amount in zip(ours.short, need, strict=True) if amount)
        worst_lack = max(worst_lack, abs(own - lacks))
        for pounds, one in zip(ours.lb, materials, strict=True):
            assert -1e-9 <= pounds <= (math.inf if one.most_lb is None else one.most_lb + 1e-6)
        if cost is None:
            assert own > 0
            short += 1
        else:
            worst_cost = max(worst_cost, abs(ours.cost - cost) / max(1.0, cost))
            met += 1
    assert met > 300
    assert short > 300
    print(f"\n{met} mixes: largest relative difference of cost to scipy {worst_cost:.1e}; "
          f"{short} that fall short: largest difference of the lacks {worst_lack:.1e}")  # fmt: skip
    assert worst_cost < 1e-6
    assert worst_lack < 1e-6


def test_the_rule_of_the_thumb_is_dearer_where_one_material_holds_three_nutrients() -> None:
    """Three nutrients, four materials: phosphate first, then nitrogen, then potash never takes the 19-19-19."""
    need: Triple = (100, 100, 100)
    dap, urea, potash = (18.0, 46.0, 0.0), (46.0, 0.0, 0.0), (0.0, 0.0, 60.0)
    materials = [
        Bagged("18-46-0", dap, 0.45),
        Bagged("46-0-0", urea, 0.36),
        Bagged("0-0-60", potash, 0.40),
        Bagged("19-19-19", (19, 19, 19), 0.28),
    ]
    thumb = by_hand(need, dap, urea, potash)
    by_thumb = sum(lb * one.cost_per_lb for lb, one in zip(thumb, materials, strict=False))
    best = cheapest(need, materials)
    expected, _ = scipy_cost(need, materials)
    assert best.cost == pytest.approx(expected, rel=1e-9)
    assert best.lb[3] == pytest.approx(100 / 0.19)
    assert best.cost < by_thumb - 50
    print(f"\nby the rule of the thumb ${by_thumb:.2f} an acre, the cheapest ${best.cost:.2f}")


def test_a_row_outside_another_is_as_long_as_geos_draws_it() -> None:
    """Regular plots of 3 to 12 corners, the outer row mitred at each."""
    random_ = random.Random(14)
    worst = 0.0
    for _ in range(300):
        corners, side, offset = random_.randint(3, 12), 10 ** random_.uniform(1, 3.5), random_.uniform(1, 10)
        reach = side / (2 * math.sin(math.pi / corners))
        turns = [2 * math.pi * n / corners for n in range(corners)]
        plot = shapely.Polygon([(reach * math.cos(turn), reach * math.sin(turn)) for turn in turns])
        drawn = plot.buffer(offset, join_style="mitre", mitre_limit=100).length
        worst = max(worst, abs(sum(outside([side] * corners, offset)) / drawn - 1))
    print(f"\nlargest relative difference of outer rows to GEOS {worst:.1e}")
    assert worst < 1e-9
    assert shapely.box(0, 0, *square_sides(2.5)[:2]).area / ACRE_SQ_FT == pytest.approx(2.5, rel=1e-12)
