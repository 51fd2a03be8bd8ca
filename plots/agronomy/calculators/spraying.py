"""Calculators of the sprayer: output, catch test, tank loads, product for an acid equivalent."""

from __future__ import annotations

from plots.agronomy import machine, sprayer
from plots.agronomy.calculators.machines import ACRES, SPEED
from plots.agronomy.calculators.spec import Figure, Given, Worked, count, fig, refuse
from plots.agronomy.entries import Number, Rows, Words
from plots.agronomy.measures import DIMENSION, Measure, convert

SPACING = Number("spacing", "Nozzle spacing, or width of the band", "in", 4, 120)
OUTPUT = Number("output", "Output", "gal/ac", 1, 200)
RATES = (("qt/ac", 0.001, 400.0), ("lb/ac", 0.0001, 4000.0))

BOOM = (
    Number("flow", "Flow of one nozzle on its sheet", "gpm", 0.01, 10),
    Number("rated_pressure", "At the pressure", "psi", 5, 300, 40),
    Number("pressure", "Pressure of the work", "psi", 5, 300, optional=True, help="Empty: as on the sheet."),
    SPACING,
    SPEED,
    Number("nozzles", "Nozzles", "", 1, 200, 1, whole=True),
    Number("wanted", "Wanted output", "gal/ac", 1, 200, optional=True),
)
CATCH = (
    SPACING,
    Number("ounces", "Caught, of all nozzles of one row together", "fl oz", 0.1, 1000),
    Number("course", "Course", "ft", 5, 2000, optional=True, help="Empty: the course of 1/128 acre."),
    Number("seconds", "Time for the course", "s", 1, 3600, optional=True),
)
TANK = (
    ACRES,
    OUTPUT,
    Number("tank", "Tank", "gal", 0.25, 5000),
    Rows(
        "products",
        "Products",
        (
            Words("name", "Product", optional=True),
            Number("rate", "Rate", "qt/ac", 0.001, 400, any_of=RATES, help="Such as 1 qt/ac, 8 fl oz/ac, 2 lb/ac."),
        ),
        shown=3,
    ),
)
ACID = (
    Number("active", "Acid equivalent an acre", "lb/ac", 0.01, 20),
    Number("strength", "Acid equivalent in the product", "lb/gal", 0.1, 12),
    Number("acres", "Acres", "ac", 0.01, 5000, optional=True),
)


def boom(given: Given) -> Worked:
    pressure = given["pressure"] or given["rated_pressure"]
    flow = sprayer.flow_at(given["flow"], given["rated_pressure"], pressure)
    spacing, speed = given["spacing"], given["speed"]
    output = sprayer.gallons_per_acre(flow, speed, spacing)
    figures = [
        fig("output", "Output", output, "gal/ac"),
        fig("flow", "Each nozzle gives", flow, "gpm"),
        fig("ounces_a_minute", "Caught from one nozzle in a minute", flow * 128, "fl oz"),
    ]
    if given["nozzles"] > 1:
        figures += [
            fig("boom", "The boom covers", given["nozzles"] * spacing / 12, "ft"),
            fig("boom_flow", "The boom gives", given["nozzles"] * flow, "gpm"),
        ]
    if given["wanted"] is None:
        return Worked(tuple(figures))
    wanted = sprayer.nozzle_gpm(given["wanted"], speed, spacing)
    need = sprayer.pressure_for(given["flow"], given["rated_pressure"], wanted)
    other = speed * output / given["wanted"]
    figures += [
        fig("pressure_for", "Pressure for the wanted output at this speed", need, "psi"),
        fig("speed_for", "Or speed for it at this pressure", other, "mph"),
    ]
    notes = []
    if not 0.25 <= need / given["rated_pressure"] <= 2.25:
        notes.append("That is far from the pressure of the tip: take another tip or another speed.")
    if not SPEED.low <= other <= SPEED.high:
        notes.append(f"{other:.1f} mph is no speed of field work: take another tip.")
    return Worked(tuple(figures), tuple(notes))


def catch(given: Given) -> Worked:
    standard = sprayer.catch_course_ft(given["spacing"])
    course = given["course"] or standard
    figures = [
        fig("output", "Output", sprayer.caught_gpa(given["ounces"], course, given["spacing"]), "gal/ac"),
        fig("course", "Course of 1/128 acre", standard, "ft"),
    ]
    if given["seconds"] is not None:
        figures.append(fig("speed", "Speed", machine.speed_mph(course, given["seconds"]), "mph"))
    return Worked(tuple(figures), ("Catch at each nozzle: one that is 10 percent off the mean is worn or blocked.",))


def loads(given: Given) -> Worked:
    found = sprayer.tanks(given["acres"], given["output"], given["tank"])
    full = found.loads - 1 if found.last_gallons < given["tank"] * (1 - 1e-9) else found.loads
    figures = [
        fig("acres_per_tank", "A full tank covers", found.acres_per_tank, "ac"),
        count("loads", "Loads", found.loads),
        fig("last_acres", "The last load covers", found.last_acres, "ac"),
        fig("last_gallons", "Fill it to", found.last_gallons, "gal"),
        fig("water", "Spray mix in all", given["acres"] * given["output"], "gal"),
    ]
    for n, line in enumerate(given["products"]):
        figures += _product(n, line["name"] or f"Product {n + 1}", line["rate"], given, found, full)
    return Worked(tuple(figures))


def _product(n: int, name: str, rate: Measure, given: Given, found: sprayer.Tanks, full: int) -> list[Figure]:
    unit, _, area = rate.unit.rpartition("/")
    per_acre = rate.value / convert(1.0, area, "ac")
    shown = [_amount(f"products.{n}.total", f"{name}: in all", per_acre * given["acres"], unit)]
    if full:
        shown.insert(
            0, _amount(f"products.{n}.full", f"{name}: into a full tank", per_acre * found.acres_per_tank, unit)
        )
    if full < found.loads:
        last = per_acre * found.last_acres
        shown.insert(-1, _amount(f"products.{n}.last", f"{name}: into the last load", last, unit))
    return shown


def _amount(key: str, label: str, value: float, unit: str) -> Figure:
    """An amount in its unit; less than half a quart or half a pound is said in ounces too."""
    small = "fl oz" if DIMENSION[unit] == "volume" else "oz"
    ounces = convert(value, unit, small)
    said = fig(key, label, value, unit)
    if unit in ("fl oz", "oz", "mL", "g") or ounces >= (16 if small == "fl oz" else 8):
        return said
    return Figure(key, label, value, unit, f"{fig('', '', ounces, small).text} ({said.text})")


def acid(given: Given) -> Worked:
    if given["strength"] < given["active"] / 8:
        raise refuse(
            "strength", "That would be more than 8 gallons an acre. Read strength and rate off the label again."
        )
    ounces = sprayer.product_per_acre(given["active"], given["strength"])
    figures = [
        fig("product", "Product an acre", ounces, "fl oz/ac"),
        fig("pints", "The same in pints", ounces / 16, "pt/ac"),
    ]
    if given["acres"] is not None:
        figures.append(fig("total", "In all", ounces * given["acres"] / 128, "gal"))
    return Worked(tuple(figures))
