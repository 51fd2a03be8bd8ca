"""Each calculator against arithmetic done by hand in the row, and what it refuses with a sentence."""

import pytest

from plots.agronomy.calculators import Absurd
from plots.agronomy.calculators.spec import duration
from plots.reference import shelf
from tests.plots.agronomy.told import TOLD

BY_HAND = [
    ("machine-hours", "acres_per_hour", 11.25 * 5.5 * 0.85 / 8.25),
    ("machine-hours", "hours", 3 / 6.375),
    ("travel-speed", "speed", 150 / 19.7 * 3600 / 5280),
    ("sprayer-output", "flow", 0.4 * (20 / 40) ** 0.5),
    ("sprayer-output", "output", 5940 * 0.4 * (20 / 40) ** 0.5 / (6 * 20)),
    ("sprayer-output", "boom", 12 * 20 / 12),
    ("sprayer-catch", "output", 26 / 128 * 43_560 / 300),
    ("sprayer-catch", "course", 43_560 / 128),
    ("sprayer-tanks", "last_gallons", 40 * 15 - 500),
    ("sprayer-tanks", "products.0.total", 40),
    ("spray-rate", "product", 0.75 / 3 * 128),
    ("seed", "live", 98 * (92 + 5) / 100),
    ("seed", "total", 3 / 0.9506 * 2.5),
    ("planter", "drop", 28_000 / 0.95),
    ("planter", "seeds", 28_000 / 0.95 * 3.2),
    ("stand-count", "plants", (27 + 25 + 28) / 3 * 1000),
    ("fertiliser", "materials.0.lb_per_acre", 60 / 0.46),
    ("fertiliser", "materials.1.lb_per_acre", (180 - 60 / 0.46 * 0.18) / 0.46),
    ("fertiliser-mix", "nitrogen", 9),
    ("lime", "tons_in_all", 1200 / 400 * 3),
    ("fence", "inner_length", 4 * 43_560**0.5),
    ("fence", "wire", 3 * 4 * 43_560**0.5 + 4 * 2 * 3),
    ("degree-days", "total", (86 + 65) / 2 - 50 + (72 + 50) / 2 - 50),
    ("feed-round", "total", 2 * 4 * 14),
]


@pytest.mark.parametrize(("key", "figure", "expected"), BY_HAND)
def test_a_figure_is_what_the_hand_works_out(key, figure, expected):
    found = {one.key: one.value for one in shelf().calculators[key].answer(TOLD[key]).figures}
    assert found[figure] == pytest.approx(expected, rel=1e-9)


def test_every_calculator_is_among_them():
    assert {key for key, _, _ in BY_HAND} | {"stand-walk"} == set(shelf().calculators)


@pytest.mark.parametrize("key", sorted(TOLD))
def test_nothing_told_is_asked_for_and_a_word_that_is_not_asked_for_is_named(key):
    calculator = shelf().calculators[key]
    with pytest.raises(Absurd) as refused:
        calculator.answer({"moon": 1})
    assert refused.value.sentences["moon"].startswith("'moon' is not asked for here.")
    assert all(sentence.endswith(".") for sentence in refused.value.sentences.values())


@pytest.mark.parametrize(
    ("key", "change", "entry", "says"),
    [
        ("machine-hours", {"speed": 0}, "speed", "0 mph makes no sense. Sensible is 0.5 to 20 mph."),
        ("machine-hours", {"acres": -2}, "acres", "-2 ac makes no sense."),
        ("seed", {"germination": 400}, "germination", "400 % makes no sense."),
        ("sprayer-tanks", {"output": "15 psi"}, "output", "cannot be in psi"),
    ],
)
def test_what_is_absurd_gets_the_sensible_range(key, change, entry, says):
    with pytest.raises(Absurd) as refused:
        shelf().calculators[key].answer(TOLD[key] | change)
    assert says in refused.value.sentences[entry]


def test_a_unit_of_the_same_kind_gives_the_same_figure():
    hours = shelf().calculators["machine-hours"]
    miles = hours.answer({"width": "3.429 m", "speed": "8.851392 km/h", "efficiency": 85, "acres": "1.214056926 ha"})
    assert miles.figures[0].value == pytest.approx(hours.answer(TOLD["machine-hours"]).figures[0].value, rel=1e-7)


def test_work_for_a_field_operation_is_found_by_it():
    assert "planter" in {one.key for one in shelf().for_operation("plant")}
    assert shelf().for_operation("juggle") == []


@pytest.mark.parametrize(
    ("hours", "said"), [(0.25, "15 min"), (2, "2 h"), (2.5, "2 h 30 min"), (1.999, "2 h"), (1.1, "1 h 06 min")]
)
def test_hours_are_said_to_the_minute(hours, said):
    assert duration(hours) == said
