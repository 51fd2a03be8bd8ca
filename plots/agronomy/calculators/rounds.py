"""Calculators of fences, degree days and feed rounds."""

from __future__ import annotations

import math

from plots.agronomy import feed, fence
from plots.agronomy.calculators.spec import Given, Worked, count, fig, money, refuse
from plots.agronomy.entries import Choice, Number, Numbers, Rows
from plots.agronomy.seeding import whole_bags
from plots.degree_days import DegreeDaySpec, degree_days

DESIGNS = {
    "two_row": ("deer fence of two rows: outer 1 wire at 18 in, inner 2 wires at 10 and 24 in", 2, 1),
    "single": ("one row", 3, 0),
}
FENCE = (
    Choice("design", "Fence", tuple((key, row[0]) for key, row in DESIGNS.items()), "two_row"),
    Numbers(
        "sides",
        Number("sides", "Sides, ft", "ft", 3, 20_000),
        least=3,
        optional=True,
        help="Of these give one: the sides, the way round, or acres.",
    ),
    Number("perimeter", "Way round", "ft", 12, 100_000, optional=True),
    Number("corners", "Corners", "", 3, 40, 4, whole=True),
    Number("acres", "Acres, for a square", "ac", 0.01, 640, optional=True),
    Number("wires", "Wires of the inner, or only, row", "", 1, 12, optional=True, whole=True),
    Number("apart", "From row to row", "ft", 1, 10, 3),
    Number("posts_apart", "From post to post at most", "ft", 5, 100, 50),
    Number("gates", "Gates", "", 0, 20, 0, whole=True),
    Number("gate_width", "Width of a gate", "ft", 3, 40, 16),
    Number("roll", "Wire on a roll", "ft", 100, 10_000, optional=True),
    Number("price", "Price of a roll", "$", 0.5, 2000, optional=True),
)
METHODS = (
    ("86/50", "corn and soybean: between 86 and 50 F"),
    ("100/50", "sorghum: between 100 and 50 F"),
    ("50", "plain, base 50 F"),
    ("40", "plain, base 40 F"),
)
DAYS = (
    Choice("method", "Counted", METHODS, "86/50"),
    Rows(
        "days",
        "Days after the planting",
        (Number("high", "High", "F", -60, 130), Number("low", "Low", "F", -80, 110)),
        least=1,
        shown=7,
    ),
    Number("wanted", "Sum that is waited for", "", 1, 6000, optional=True),
)
LEGAL = (
    ("not_known", "not known yet"),
    ("legal", "asked and allowed for this county and season"),
    ("banned", "not allowed"),
)
FEED = (
    Choice("legal", "Feeding here is", LEGAL, "not_known"),
    Number("feeders", "Feeders", "", 1, 100, whole=True),
    Number("rate", "Each gives", "lb/day", 0.1, 200),
    Number("days", "Days to the next round", "days", 1, 120),
    Number("hopper", "A feeder holds", "lb", 5, 5000, optional=True),
    Number("bag", "Bag", "lb", 5, 3000, 50),
    Number("price", "Price of a bag", "$", 0.01, 1000, optional=True),
    Number("weight", "Weight of a deer, to compare", "lb", 50, 400, optional=True),
)


def fenced(given: Given) -> Worked:
    sides = _sides(given)
    inner_wires, outer_wires = DESIGNS[given["design"]][1:]
    rows = [fence.Row(tuple(sides), int(given["wires"] or inner_wires))]
    if outer_wires:
        rows.append(fence.Row(tuple(fence.outside(sides, given["apart"])), outer_wires))
    if given["gates"] * given["gate_width"] >= rows[0].length_ft:
        raise refuse("gates", f"The gates are wider than the fence of {rows[0].length_ft:.0f} ft is long.")
    wire = sum(row.wire_ft for row in rows)
    posts = [row.posts(given["posts_apart"]) for row in rows]
    gate_posts = int(2 * given["gates"] * len(rows))
    figures = [
        fig("wire", "Wire", wire, "ft", 5),
        count("posts", "Posts, corners among them", sum(posts)),
    ]
    for name, row, standing in zip(("inner", "outer"), rows, posts, strict=False):
        label = "Inner row" if outer_wires and name == "inner" else "Outer row" if outer_wires else "Row"
        figures.append(fig(f"{name}_length", f"{label}: way round", row.length_ft, "ft", 4))
        figures.append(count(f"{name}_posts", f"{label}: posts", standing))
    if given["gates"]:
        figures.append(count("gate_posts", "Gate posts on top", gate_posts))
        handles = given["gates"] * sum(row.wires for row in rows)
        figures.append(count("handles", "Insulated gate handles, one a wire", handles))
    figures += [
        count("corners", "Corner insulators", sum(len(row.sides_ft) * row.wires for row in rows)),
        count("rods", "Ground rods of 6 ft, at least 10 ft apart, at the least", 3),
        fig("joules", "Energiser, about (from memory: 1 joule a mile of wire)", wire / fence.FEET_A_MILE, "J", 2),
    ]
    if given["roll"] is not None:
        rolls = whole_bags(wire, given["roll"])
        figures.append(count("rolls", "Rolls of wire", rolls))
        if given["price"] is not None:
            figures.append(money("cost", "They cost", rolls * given["price"]))
    notes = ["Add wire for knots and slack. At least 5,000 volts on the wire, and every wire hot."]
    if not given["sides"]:
        notes.append(f"Reckoned with {len(sides)} equal sides; give the sides for the posts of each.")
    return Worked(tuple(figures), tuple(notes))


def _sides(given: Given) -> list[float]:
    if given["sides"]:
        longest, rest = max(given["sides"]), math.fsum(given["sides"]) - max(given["sides"])
        if longest >= rest:
            raise refuse("sides", f"The side of {longest:g} ft is longer than all others together: they do not close.")
        return list(given["sides"])
    if given["perimeter"] is not None:
        corners = int(given["corners"])
        return [given["perimeter"] / corners] * corners
    if given["acres"] is not None:
        return fence.square_sides(given["acres"])
    raise refuse("perimeter", "Give the sides, the way round, or the acres of a square.")


def summed(given: Given) -> Worked:
    spec = DegreeDaySpec.parse(given["method"])
    for n, day in enumerate(given["days"]):
        if day["low"] > day["high"]:
            raise refuse(f"days.{n}.low", f"The low {day['low']:g} F lies above the high {day['high']:g} F.")
    each = [degree_days(day["high"], day["low"], spec) / 100 for day in given["days"]]
    total, pace = math.fsum(each), math.fsum(each) / len(each)
    figures = [
        fig("total", "Degree days", total, digits=5),
        fig("a_day", "A day", pace, digits=3),
        *(fig(f"days.{n}", f"Day {n + 1}", value, digits=4) for n, value in enumerate(each)),
    ]
    if given["wanted"] is not None and total >= given["wanted"]:
        return Worked(tuple(figures), ("The sum is reached.",))
    if given["wanted"] is not None and pace > 0:
        figures.insert(2, count("days_left", "Days left at this pace", math.ceil((given["wanted"] - total) / pace)))
    return Worked(tuple(figures), ("Counting starts the day after planting.",))


def round_of_feed(given: Given) -> Worked:
    if given["legal"] == "banned":
        raise refuse("legal", "Feeding is not allowed here, so nothing is reckoned. Clear what lies out.")
    lb = feed.round_lb(int(given["feeders"]), given["rate"], given["days"])
    bags = whole_bags(lb, given["bag"])
    figures = [
        fig("total", "Feed for the round", lb, "lb"),
        count("bags", "Bags", bags),
        fig("each", "Into each feeder", given["rate"] * given["days"], "lb"),
    ]
    notes = []
    if given["legal"] == "not_known":
        notes.append(
            "Some states ban feeding deer, others by county or season: ask the agency before you fill anything."
        )
    if given["hopper"] is not None:
        lasts = feed.lasts_days(given["hopper"], given["rate"])
        figures.append(fig("lasts", "A full feeder lasts", lasts, "days"))
        if lasts < given["days"]:
            notes.append(f"A feeder runs empty after {int(lasts)} days: come sooner, or set the rate lower.")
    if given["price"] is not None:
        figures.append(money("cost", "The bags cost", bags * given["price"]))
    if given["weight"] is not None:
        eaten = feed.dry_forage_lb(given["weight"])
        figures.append(fig("eaten", "A deer of this weight eats of everything in a day", eaten, "lb"))
    return Worked(tuple(figures), tuple(notes))
