"""Calculators of fertiliser and lime."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from plots.agronomy import fertiliser, lime
from plots.agronomy.calculators.machines import ACRES
from plots.agronomy.calculators.spec import Figure, Given, Worked, count, fig, money, refuse
from plots.agronomy.entries import Choice, Number, Rows, Words
from plots.agronomy.seeding import whole_bags

ANALYSIS = Words(
    "analysis",
    "Analysis",
    pattern=r"\d{1,3}(\.\d+)?-\d{1,3}(\.\d+)?-\d{1,3}(\.\d+)?",
    told_as="three percentages like 18-46-0",
)
MATERIALS = Rows(
    "materials",
    "Materials",
    (
        Words("name", "Material", optional=True),
        ANALYSIS,
        Number("bag", "Bag", "lb", 1, 4000, 50),
        Number("price", "Price of a bag", "$", 0.01, 10_000, optional=True),
        Number("on_hand", "On hand", "lb", 0, 500_000, optional=True, help="Empty: as much as it takes."),
    ),
    least=1,
)
MIX = (
    Rows(
        "materials",
        "Materials",
        (Words("name", "Material", optional=True), ANALYSIS, Number("amount", "Pounds", "lb", 0.01, 100_000)),
        least=1,
    ),
)
NAMES = ("nitrogen", "phosphate", "potash")


def bags_entries(legumes: Mapping[str, Mapping[str, Any]]) -> tuple[Any, ...]:
    options = tuple((key, f"{row['name']}: {_credit(row)} lb/ac") for key, row in legumes.items())
    return (
        Number("nitrogen", "Nitrogen asked for", "lb/ac", 0, 400),
        Number("phosphate", "Phosphate (P2O5) asked for", "lb/ac", 0, 400),
        Number("potash", "Potash (K2O) asked for", "lb/ac", 0, 500),
        Choice("legume", "Grew here before", options, "none", help="Its nitrogen is taken off, the lower figure."),
        Number("credit", "Its nitrogen, if you know better", "lb/ac", 0, 250, optional=True),
        Number("share", "Share of it to give", "%", 10, 100, 100),
        ACRES,
        MATERIALS,
    )


def _credit(row: Mapping[str, Any]) -> str:
    return f"{row['low']:g}" if row["low"] == row["high"] else f"{row['low']:g} to {row['high']:g}"


def bags_rule(legumes: Mapping[str, Mapping[str, Any]]) -> Any:
    def rule(given: Given) -> Worked:
        credit = given["credit"] if given["credit"] is not None else float(legumes[given["legume"]]["low"])
        asked = tuple(given[name] for name in NAMES)
        need = fertiliser.still_needed((asked[0], asked[1], asked[2]), given["share"] / 100, credit)
        materials = [_bagged(n, line, given["acres"]) for n, line in enumerate(given["materials"])]
        priced = [line["price"] is not None for line in given["materials"]]
        if any(priced) and not all(priced):
            raise refuse(f"materials.{priced.index(False)}.price", "Give the price of every bag, or of none.")
        blend = fertiliser.cheapest(need, materials)
        figures = [
            fig(f"need_{name}", f"{name.capitalize()} to give", value, "lb/ac")
            for name, value in zip(NAMES, need, strict=True)
        ]
        figures += _material_figures(given, materials, blend, all(priced))
        return Worked(tuple(figures), tuple(_notes(blend, credit, all(priced))))

    return rule


def _bagged(n: int, line: Mapping[str, Any], acres: float) -> fertiliser.Bagged:
    price, on_hand = line["price"], line["on_hand"]
    return fertiliser.Bagged(
        line["name"] or line["analysis"],
        _triple(f"materials.{n}.analysis", line["analysis"]),
        1.0 if price is None else price / line["bag"],
        None if on_hand is None else on_hand / acres,
    )


def _triple(entry: str, text: str) -> fertiliser.Triple:
    try:
        return fertiliser.analysis_of(text)
    except ValueError as error:
        raise refuse(entry, str(error)) from None


def _material_figures(
    given: Given, materials: list[fertiliser.Bagged], blend: fertiliser.Blend, priced: bool
) -> list[Figure]:
    figures: list[Figure] = []
    bought = 0.0
    for n, (one, lb, line) in enumerate(zip(materials, blend.lb, given["materials"], strict=True)):
        bags = whole_bags(lb * given["acres"] - 1e-6, line["bag"]) if lb > 1e-6 else 0
        figures += [
            fig(f"materials.{n}.lb_per_acre", f"{one.name}: an acre", lb, "lb/ac"),
            fig(f"materials.{n}.lb", f"{one.name}: in all", lb * given["acres"], "lb"),
            count(f"materials.{n}.bags", f"{one.name}: bags of {line['bag']:g} lb to open", bags),
        ]
        bought += bags * (line["price"] or 0.0)
    if priced:
        figures.append(money("cost_per_acre", "It costs an acre", blend.cost))
        figures.append(money("cost", "Whole bags in all", bought))
    return figures


def _notes(blend: fertiliser.Blend, credit: float, priced: bool) -> list[str]:
    notes = [f"{credit:g} lb/ac of nitrogen are credited to the legume."] if credit else []
    notes += [
        f"{name.capitalize()} falls short by {value:.3g} lb/ac with these materials."
        for name, value in zip(NAMES, blend.short, strict=True)
        if value
    ]
    notes += [
        f"The mix gives {value:.3g} lb/ac more {name} than asked for."
        for name, value in zip(NAMES, blend.over, strict=True)
        if value > 0.05
    ]
    if len(blend.lb) > 1:
        notes.append("The mix that costs least." if priced else "No prices given: the mix with the fewest pounds.")
    return notes


def mix(given: Given) -> Worked:
    parts = [
        (line["amount"], _triple(f"materials.{n}.analysis", line["analysis"]))
        for n, line in enumerate(given["materials"])
    ]
    found = fertiliser.mixed(parts)
    total = sum(lb for lb, _ in parts)
    text = "-".join(f"{value:.3g}" for value in found)
    figures = [fig("total", "Mix", total, "lb", text=f"{total:g} lb of {text}")]
    figures += [fig(name, name.capitalize(), value, "%") for name, value in zip(NAMES, found, strict=True)]
    return Worked(tuple(figures))


LIME = (
    Choice(
        "measure",
        "The report asks in",
        (
            ("enm", "lb of effective neutralizing material an acre (Missouri)"),
            ("tons", "tons an acre of a lime of some strength (most other states)"),
            ("acidity", "acidity from the buffer pH (North Carolina)"),
        ),
    ),
    Number("required", "Effective neutralizing material asked for", "lb/ac", 1, 8000, optional=True),
    Number("product_enm", "Effective neutralizing material of the product", "lb/ton", 50, 800, optional=True),
    Number("carbonate", "Or its calcium carbonate equivalent", "%", 20, 180, optional=True),
    Number("fineness", "And its fineness", "%", 10, 100, optional=True),
    Number("tons", "Tons an acre asked for", "ton/ac", 0.05, 15, optional=True),
    Number("basis", "Strength the report reckons with", "", 1, 2000, optional=True, help="Percent, or lb a ton."),
    Number("product", "Strength of the product", "", 1, 2000, optional=True, help="In the same measure."),
    Number("acidity", "Acidity, meq/100 cm3", "", 0.05, 15, optional=True),
    Number("ph", "pH now", "", 3, 9, optional=True),
    Number("target", "pH wanted", "", 4.5, 6.5, optional=True),
    ACRES,
    Number("most_at_once", "Most at once", "ton/ac", 0.25, 6, lime.SURFACE_MOST_TONS),
    Number("years_between", "Years between two turns", "", 1, 4, 2, whole=True),
    Number("price", "Price of a ton", "$", 0.5, 1000, optional=True),
)


def lime_rule(given: Given) -> Worked:
    tons, figures = _tons(given)
    notes: list[str] = []
    if tons <= 0:
        return Worked((fig("tons_per_acre", "Lime", 0, "ton/ac"),), ("The soil is there already: no lime.",))
    turns = lime.turns(tons, given["most_at_once"])
    figures += [
        fig("tons_per_acre", "Lime", tons, "ton/ac"),
        fig("tons_in_all", "In all", tons * given["acres"], "ton"),
        count("turns", "Turns", len(turns)),
        fig("tons_a_turn", "Each turn", turns[0], "ton/ac"),
    ]
    if len(turns) > 1:
        years = given["years_between"]
        when = ", ".join(f"year {n * years:.0f}" for n in range(1, len(turns)))
        notes.append(f"The first turn now, the next in {when}. Sample again before each.")
    if tons > 6:
        notes.append("That is a great deal of lime: look at the report and its measure again.")
    if given["price"] is not None:
        figures.append(money("cost", "It costs", tons * given["acres"] * given["price"]))
    return Worked(tuple(figures), tuple(notes))


def _tons(given: Given) -> tuple[float, list[Figure]]:
    match given["measure"]:
        case "enm":
            if given["product_enm"] is not None:
                product = given["product_enm"]
            else:
                carbonate, fine = _all(given, "carbonate", "fineness", instead="product_enm")
                product = lime.enm_per_ton(carbonate, fine)
            (required,) = _all(given, "required")
            return lime.tons_by_enm(required, product), [
                fig("enm", "Effective neutralizing material", product, "lb/ton")
            ]
        case "tons":
            tons, basis, product = _all(given, "tons", "basis", "product")
            return lime.tons_by_basis(tons, basis, product), []
        case _:
            acidity, ph, target = _all(given, "acidity", "ph", "target")
            if target <= ph:
                return 0.0, []
            share = lime.nc_factor(target, ph)
            return acidity * share, [fig("share", "Of the acidity is neutralised", share * 100, "%")]


def _all(given: Given, *names: str, instead: str = "") -> list[float]:
    entries = {entry.name: entry for entry in LIME}
    for name in names:
        if given[name] is None:
            entry = entries[name]
            assert isinstance(entry, Number)
            other = f", or the {entries[instead].label.lower()}" if instead else ""
            raise refuse(name, f"{entry.label} is missing. Give {entry.span()}{other}.")
    return [given[name] for name in names]
