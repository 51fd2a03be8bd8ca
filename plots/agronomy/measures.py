"""Quantities as people write them: "4.5", "7 km/h", "11 ft 3 in", "3/4 pt". Pure; factors are exact.

A unit belongs to one dimension and has a factor to that dimension's base. Definitions: the inch is 25.4 mm, the pound
0.45359237 kg, the US gallon 231 cubic inches, the ton 2,000 lb (NIST Handbook 44, appendix C); psi follows from them
with standard gravity 9.80665 m/s2.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from plots.units import ACRE_SQ_FT, FOOT_M, HECTARES_PER_ACRE

POUND_KG = 0.453_592_37
GALLON_L = 231 * (FOOT_M * 10 / 12) ** 3
PSI_KPA = POUND_KG * 9.806_65 / (FOOT_M / 12) ** 2 / 1000

_VOLUME = {"gal": 1.0, "qt": 1 / 4, "pt": 1 / 8, "fl oz": 1 / 128, "L": 1 / GALLON_L, "mL": 1 / GALLON_L / 1000}
_MASS = {"lb": 1.0, "oz": 1 / 16, "ton": 2000.0, "kg": 1 / POUND_KG, "g": 1 / POUND_KG / 1000, "t": 1000 / POUND_KG}
_COUNT = {"seeds": 1.0, "kernels": 1.0, "pieces": 1.0}
_TIME = {"s": 1.0, "min": 60.0, "h": 3600.0}
_AREA = {"ac": 1.0, "ha": 1 / HECTARES_PER_ACRE}

FACTORS: dict[str, dict[str, float]] = {
    "length": {
        "ft": 1.0,
        "in": 1 / 12,
        "yd": 3.0,
        "mi": 5280.0,
        "m": 1 / FOOT_M,
        "cm": 0.01 / FOOT_M,
        "mm": 0.001 / FOOT_M,
        "km": 1000 / FOOT_M,
    },
    "area": {**_AREA, "sq ft": 1 / ACRE_SQ_FT, "sq m": 1 / HECTARES_PER_ACRE / 10_000},
    "speed": {
        "mph": 1.0,
        "km/h": 1000 / FOOT_M / 5280,
        "ft/min": 60 / 5280,
        "m/s": 3600 / FOOT_M / 5280,
    },
    "volume": _VOLUME,
    "mass": _MASS,
    "count": _COUNT,
    "pressure": {"psi": 1.0, "kPa": 1 / PSI_KPA, "bar": 100 / PSI_KPA},
    "flow": {"gpm": 1.0, "fl oz/min": 1 / 128, "L/min": 1 / GALLON_L},
    "time": _TIME,
    "days": {"days": 1.0, "weeks": 7.0},
    "share": {"%": 1.0, "share": 100.0},
    "volume an acre": {f"{v}/{a}": _VOLUME[v] / _AREA[a] for v in _VOLUME for a in _AREA},
    "mass an acre": {f"{m}/{a}": _MASS[m] / _AREA[a] for m in _MASS for a in _AREA},
    "count an acre": {f"{c}/{a}": _COUNT[c] / _AREA[a] for c in _COUNT for a in _AREA},
    "mass a day": {"lb/day": 1.0, "kg/day": 1 / POUND_KG},
    "mass a ton": {"lb/ton": 1.0, "kg/t": 2.0},
    "mass a gallon": {"lb/gal": 1.0, "kg/L": GALLON_L / POUND_KG, "g/L": GALLON_L / POUND_KG / 1000},
    "money": {"$": 1.0},
}
"""By dimension: what one of a unit is in the dimension's base, the first of them."""

TEMPERATURES = ("F", "C")
DIMENSION = {unit: dimension for dimension, units in FACTORS.items() for unit in units} | dict.fromkeys(
    TEMPERATURES, "temperature"
)
_SAME = {
    "feet": "ft", "foot": "ft", "'": "ft", "inch": "in", "inches": "in", '"': "in", "acre": "ac", "acres": "ac",
    "lbs": "lb", "pound": "lb", "pounds": "lb", "gallon": "gal", "gallons": "gal", "quart": "qt", "quarts": "qt",
    "pint": "pt", "pints": "pt", "ounces": "oz", "tons": "ton", "percent": "%", "l": "L", "ml": "mL", "kpa": "kPa",
    "hours": "h", "hour": "h", "minutes": "min", "seconds": "s", "sec": "s", "kmh": "km/h", "kph": "km/h",
    "l/ha": "L/ha", "gpa": "gal/ac", "day": "days", "week": "weeks", "l/min": "L/min", "°f": "F", "°c": "C",
    "lb/acre": "lb/ac", "gal/acre": "gal/ac", "qt/acre": "qt/ac", "sqft": "sq ft", "ft2": "sq ft", "floz": "fl oz",
}  # fmt: skip
_PART = re.compile(r"\s*([-+]?)\s*(\d[\d,]*\.?\d*|\.\d+)(?:\s*/\s*(\d+)(?![\d.]))?\s*([^\d\s+-][^\d]*?)?\s*(?=\d|\Z)")
LONGEST = 40
_THOUSANDS = re.compile(r"\d{1,3}(,\d{3})+(\.\d*)?\Z")


@dataclass(frozen=True, slots=True)
class Measure:
    """A value with its unit; "" where it was written bare."""

    value: float
    unit: str


def dimension_of(unit: str) -> str:
    """The dimension of a unit; "" for a word that is no unit here."""
    return DIMENSION.get(unit, "")


def siblings(unit: str) -> list[str]:
    """All units of this one's dimension, itself first."""
    if unit in TEMPERATURES:
        return sorted(TEMPERATURES, key=lambda name: name != unit)
    return sorted(FACTORS.get(dimension_of(unit), {unit: 1.0}), key=lambda name: name != unit)


def convert(value: float, unit: str, to: str) -> float:
    """The same quantity in another unit.

    Raises:
        ValueError: the two are not of one dimension, or one is no unit.
    """
    if unit == to and unit in DIMENSION:
        return value
    if {unit, to} == set(TEMPERATURES):
        return (value - 32) / 1.8 if unit == "F" else value * 1.8 + 32
    dimension = dimension_of(unit)
    if not dimension or dimension != dimension_of(to):
        raise ValueError(f"{unit or 'no unit'} does not turn into {to or 'no unit'}.")
    return value * FACTORS[dimension][unit] / FACTORS[dimension][to]


def unit_named(word: str) -> str:
    """The unit that a word means, by its usual spellings.

    Raises:
        ValueError: it is no unit that is known here.
    """
    plain = " ".join(word.split())
    for name in (plain, plain.rstrip("."), _SAME.get(plain.lower().rstrip("."), ""), plain.lower()):
        if name in DIMENSION:
            return name
    raise ValueError(f"'{plain}' is no unit that is known here.")


def measure(text: str) -> Measure:
    """Read "4.5", "2,000", "3/4 pt", "-2", "7 km/h", "11 ft 3 in", "5 1/2 in": parts of one dimension are added up.

    Raises:
        ValueError: it is no number, names no known unit, or its parts do not belong together.
    """
    plain = text.strip()
    if len(plain) > LONGEST:
        raise ValueError("This is too long for a number with its unit.")
    parts, at = [], 0
    while at < len(plain):
        found = _PART.match(plain, at)
        if found is None:
            raise ValueError(f"'{plain}' is no number.")
        sign, number, below, word = found.groups()
        if "," in number and not _THOUSANDS.match(number):
            raise ValueError(f"'{plain}' is no number; a decimal point is written as a point.")
        if below is not None and float(below) == 0:
            raise ValueError(f"'{plain}' divides by nothing.")
        value = float(number.replace(",", "")) / (float(below) if below else 1.0)
        parts.append((-value if sign == "-" else value, unit_named(word) if word else ""))
        at = found.end()
    if not parts:
        raise ValueError("There is no number.")
    return _added(plain, parts)


def _added(plain: str, parts: list[tuple[float, str]]) -> Measure:
    """ "5 1/2 in" is whole and part of one unit; "11 ft 3 in" is added in the first unit."""
    if len(parts) > 1 and parts[0][1] == "" and parts[1][1] != "" and "/" in plain:
        parts = [(parts[0][0], parts[1][1]), *parts[1:]]
    first = parts[0][1]
    total = parts[0][0]
    for value, unit in parts[1:]:
        if not first or not unit:
            raise ValueError(f"'{plain}' is more than one number.")
        try:
            total += convert(value, unit, first)
        except ValueError:
            raise ValueError(f"'{plain}' mixes {first} and {unit}.") from None
    return Measure(total, first)
