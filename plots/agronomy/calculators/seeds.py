"""Calculators of seed, planter and stand."""

from __future__ import annotations

from statistics import fmean

from plots.agronomy import seeding, stand
from plots.agronomy.calculators.machines import ACRES
from plots.agronomy.calculators.spec import Given, Worked, count, fig, money, refuse
from plots.agronomy.entries import Number, Numbers

ROW = Number("row", "Row width", "in", 4, 60)
PRICE = Number("price", "Price of a bag", "$", 0.01, 10_000, optional=True)

TAG = (
    Number("purity", "Purity", "%", 1, 100),
    Number("germination", "Germination", "%", 1, 100),
    Number("dormant", "Hard or dormant seed", "%", 0, 99, 0),
    Number("rate", "Rate of pure live seed", "lb/ac", 0.01, 400),
    ACRES,
    Number("bag", "Bag", "lb", 0.1, 3000, optional=True),
    PRICE,
)
PLANTER = (
    ROW,
    Number("stand", "Plants wanted an acre", "", 500, 500_000),
    Number(
        "emergence", "Of the seeds come up", "%", 20, 100, 95, help="Germination on the tag, less what the field takes."
    ),
    ACRES,
    Number("bag", "Seeds in a bag", "", 1000, 2_000_000, optional=True),
    PRICE,
)
COUNTS = (
    ROW,
    Numbers("counts", Number("counts", "Plants counted at each place", "", 0, 2000)),
    Number("dropped", "Seeds dropped an acre", "", 500, 1_000_000, optional=True),
    Number("acres", "Acres of the field", "ac", 0.01, 5000, optional=True),
)
WALK = (
    ROW,
    Number("walked", "Feet of row on which 150 plants stand", "ft", 1, 5000),
    Number("dropped", "Seeds dropped an acre", "", 500, 1_000_000, optional=True),
)


def tag(given: Given) -> Worked:
    if given["germination"] + given["dormant"] > 100:
        raise refuse(
            "dormant",
            f"Germination and hard seed are {given['germination'] + given['dormant']:g} % together. "
            "Sensible is at most 100 %.",
        )
    live = seeding.pure_live_seed(given["purity"] / 100, given["germination"] / 100, given["dormant"] / 100)
    rate = seeding.bulk_lb(given["rate"], live)
    total = rate * given["acres"]
    figures = [
        fig("live", "Pure live seed", live * 100, "%", 4),
        fig("bulk_rate", "Out of the bag an acre", rate, "lb/ac"),
        fig("total", "In all", total, "lb"),
    ]
    if given["bag"] is not None:
        bags = seeding.whole_bags(total, given["bag"])
        figures.append(count("bags", "Bags", bags))
        figures.append(fig("live_in_bag", "Live seed in a bag", given["bag"] * live, "lb"))
        if given["price"] is not None:
            figures.append(money("cost", "They cost", bags * given["price"]))
    return Worked(tuple(figures))


def planter(given: Given) -> Worked:
    drop = seeding.seeds_to_drop(given["stand"], given["emergence"] / 100)
    apart = seeding.spacing_in(given["row"], drop)
    course = stand.thousandth_acre_ft(given["row"])
    figures = [
        count("drop", "Seeds to drop an acre", drop),
        fig("spacing", "From seed to seed", apart, "in", 2 if apart < 10 else 3),
        fig("course", "Row length of 1/1000 acre", course, "ft", text=stand.feet_and_inches(course)),
        fig("seeds_on_course", "Seeds on it", drop / 1000),
        count("seeds", "Seeds in all", drop * given["acres"]),
    ]
    if given["bag"] is not None:
        bags = seeding.whole_bags(drop * given["acres"], given["bag"])
        figures += [
            fig("acres_per_bag", "A bag covers", seeding.acres_per_bag(given["bag"], drop), "ac"),
            count("bags", "Bags", bags),
        ]
        if given["price"] is not None:
            figures.append(money("cost", "They cost", bags * given["price"]))
    notes = ("Dig behind the planter on each row: spacing and depth are what was planted, not what was set.",)
    return Worked(tuple(figures), notes)


def counted(given: Given) -> Worked:
    course = stand.thousandth_acre_ft(given["row"])
    counts = given["counts"]
    plants = fmean(counts) * 1000
    figures = [
        count("plants", "Plants an acre", plants),
        fig("course", "Counted on", course, "ft", text=stand.feet_and_inches(course)),
        count("least", "Thinnest place", min(counts) * 1000, "plants/ac"),
        count("most", "Thickest place", max(counts) * 1000, "plants/ac"),
    ]
    notes = []
    if given["dropped"] is not None:
        figures.append(fig("stand", "Of the seeds stand", plants / given["dropped"] * 100, "%"))
        if plants > given["dropped"]:
            notes.append("More plants than seeds: count again, or look up what was dropped.")
    if given["acres"] is not None:
        asked = stand.samples_for(given["acres"])
        if asked is None:
            notes.append("For more than 50 acres no number of places is published; count more than 7.")
        elif len(counts) < asked:
            notes.append(f"Counted in {len(counts)} of {asked} places that a field of this size asks for.")
    return Worked(tuple(figures), tuple(notes))


def walked(given: Given) -> Worked:
    plants = stand.plants_by_walk(150, given["walked"], given["row"])
    figures = [
        count("plants", "Plants an acre", plants),
        fig("per_foot", "Plants on a foot of row", 150 / given["walked"]),
    ]
    if given["dropped"] is not None:
        figures.append(fig("stand", "Of the seeds stand", plants / given["dropped"] * 100, "%"))
    return Worked(tuple(figures))
