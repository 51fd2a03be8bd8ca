"""What a calculator does by what is told beside the usual entries; figures by hand in the row."""

import pytest

from plots.agronomy.calculators import Absurd, Worked
from plots.reference import shelf
from tests.plots.agronomy.told import TOLD


def answer(key: str, **change) -> Worked:
    told = {name: value for name, value in (TOLD[key] | change).items() if value is not None}
    return shelf().calculators[key].answer(told)


def values(worked: Worked) -> dict[str, float]:
    return {figure.key: figure.value for figure in worked.figures}


ACID = {"measure": "acidity", "required": None, "product_enm": None, "ph": 5.0, "target": 6.0, "acidity": 2.0}
CASES = [
    ("fence", {"acres": None, "sides": "300 400 500", "design": "single", "gates": 0}, "wire", 1200 * 3),
    ("fence", {"acres": None, "perimeter": 1200, "corners": 6, "wires": 1, "design": "single"}, "posts", 6 * 4),
    ("fence", {"acres": None, "perimeter": 1200, "design": "single", "roll": 1320, "price": 40}, "cost", 3 * 40),
    ("degree-days", {"wanted": 100}, "days_left", 4),
    ("feed-round", {"hopper": 40, "price": 9.5, "weight": 150}, "lasts", 10),
    ("feed-round", {"price": 9.5}, "cost", 3 * 9.5),
    ("seed", {"price": 80}, "cost", 80),
    ("planter", {"price": 250}, "cost", 500),
    ("stand-walk", {"dropped": 30_000}, "stand", 150 / 100 / 2.5 * 43_560 / 30_000 * 100),
    ("lime", {"product_enm": None, "carbonate": 100, "fineness": 50}, "enm", 400),
    ("lime", {"measure": "tons", "tons": 3, "basis": 100, "product": 80}, "tons_per_acre", 3.75),
    ("lime", {"price": 30}, "cost", 9 * 30),
    ("fertiliser", {"credit": 40}, "need_nitrogen", 140),
    ("fertiliser", {"share": 50}, "need_potash", 40),
]


@pytest.mark.parametrize(("key", "change", "figure", "expected"), CASES)
def test_a_choice_changes_the_figure_as_the_hand_says(key, change, figure, expected):
    assert values(answer(key, **change))[figure] == pytest.approx(expected, rel=1e-9)


def test_acidity_is_neutralised_by_the_share_of_the_way_to_the_target():
    found = values(answer("lime", **ACID))
    assert found["tons_per_acre"] == pytest.approx(2.0 * found["share"] / 100)
    assert values(answer("lime", **(ACID | {"target": 5.0}))) == {"tons_per_acre": 0}


def test_prices_of_all_bags_give_the_cost_and_of_some_are_refused():
    bags = [{"analysis": "18-46-0", "price": 30}, {"analysis": "46-0-0", "price": 20}, {"analysis": "0-0-60"}]
    with pytest.raises(Absurd) as refused:
        answer("fertiliser", materials=bags)
    assert refused.value.sentences == {"materials.2.price": "Give the price of every bag, or of none."}
    priced = answer("fertiliser", materials=[*bags[:2], bags[2] | {"price": 25}])
    found = values(priced)
    assert found["cost"] == sum(found[f"materials.{n}.bags"] * price for n, price in enumerate((30, 20, 25)))
    assert priced.notes == ("The mix that costs least.",)


def test_what_the_materials_cannot_give_and_what_they_give_too_much_is_said():
    short = answer("fertiliser", materials=[{"analysis": "18-46-0", "on_hand": 20}, {"analysis": "46-0-0"}])
    assert "Potash falls short by 80 lb/ac with these materials." in short.notes
    assert any(note.startswith("Phosphate falls short by") for note in short.notes)
    over = answer("fertiliser", nitrogen=0, potash=0, materials=[{"analysis": "18-46-0"}])
    assert "The mix gives 23.5 lb/ac more nitrogen than asked for." in over.notes


@pytest.mark.parametrize(
    ("key", "change", "says"),
    [
        ("degree-days", {"wanted": 30}, "The sum is reached."),
        ("feed-round", {"hopper": 40}, "A feeder runs empty after 10 days: come sooner, or set the rate lower."),
        ("lime", {"required": 4000}, "That is a great deal of lime: look at the report and its measure again."),
        ("stand-count", {"dropped": 20_000}, "More plants than seeds: count again, or look up what was dropped."),
        ("stand-count", {"acres": 80}, "For more than 50 acres no number of places is published; count more than 7."),
    ],
)
def test_a_sentence_says_what_to_heed(key, change, says):
    assert says in answer(key, **change).notes


@pytest.mark.parametrize(
    ("key", "change", "entry", "says"),
    [
        ("fence", {"acres": None}, "perimeter", "Give the sides, the way round, or the acres of a square."),
        ("fence", {"sides": "10 20 40"}, "sides", "The side of 40 ft is longer than all others together"),
        ("fence", {"acres": None, "perimeter": 30, "gates": 2}, "gates", "The gates are wider than the fence of 30 ft"),
        ("degree-days", {"days": [{"high": 50, "low": 60}]}, "days.0.low", "The low 60 F lies above the high 50 F."),
        ("feed-round", {"legal": "banned"}, "legal", "Feeding is not allowed here, so nothing is reckoned."),
        ("seed", {"germination": 98}, "dormant", "Germination and hard seed are 103 % together."),
        ("lime", {"required": None}, "required", "is missing. Give 1 to 8,000 lb/ac."),
        ("lime", {"product_enm": None}, "carbonate", ", or the effective neutralizing material of the product."),
        ("fertiliser-mix", {"materials": [{"analysis": "90-90-0", "amount": 5}]}, "materials.0.analysis", "."),
    ],
)
def test_entries_that_do_not_go_together_are_refused_at_the_entry(key, change, entry, says):
    with pytest.raises(Absurd) as refused:
        answer(key, **change)
    assert says in refused.value.sentences[entry]
