"""Quantities as people write them. Factors are compared with a units library in tests/outside."""

import pytest

from plots.agronomy.measures import FACTORS, Measure, convert, dimension_of, measure, siblings, unit_named


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("4.5", 4.5, ""),
        (" 2,000 ", 2000, ""),
        (".5 pt", 0.5, "pt"),
        ("3/4 pt", 0.75, "pt"),
        ("-2", -2, ""),
        ("+2 h", 2, "h"),
        ("7 km/h", 7, "km/h"),
        ("5 1/2 in", 5.5, "in"),
        ("11 ft 3 in", 11.25, "ft"),
        ("11' 3\"", 11.25, "ft"),
        ("2 Gallons.", 2, "gal"),
        ("15 gpa", 15, "gal/ac"),
    ],
)
def test_a_quantity_is_read_as_it_is_written(text, value, unit):
    assert measure(text) == Measure(pytest.approx(value), unit)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "There is no number."),
        ("soon", "'soon' is no number."),
        ("7 moons", "'moons' is no unit that is known here."),
        ("1,5", "a decimal point is written as a point"),
        ("3/0 pt", "divides by nothing"),
        ("3 4", "is more than one number"),
        ("3 ft 4 lb", "mixes ft and lb"),
        ("1" * 41, "too long"),
    ],
)
def test_what_is_none_is_refused_in_a_sentence(text, says):
    with pytest.raises(ValueError, match=says):
        measure(text)


def test_there_and_back_is_the_same_in_every_dimension():
    for units in FACTORS.values():
        for unit in units:
            first = next(iter(units))
            assert convert(convert(3.7, unit, first), first, unit) == pytest.approx(3.7)
    assert convert(convert(70, "F", "C"), "C", "F") == pytest.approx(70)
    assert convert(5, "F", "F") == 5


@pytest.mark.parametrize(("unit", "to"), [("ft", "lb"), ("", "ft"), ("F", "ft"), ("moon", "moon")])
def test_different_things_do_not_turn_into_each_other(unit, to):
    with pytest.raises(ValueError, match="does not turn into"):
        convert(1, unit, to)


def test_a_unit_is_listed_first_among_its_own():
    assert siblings("psi")[0] == "psi"
    assert siblings("C") == ["C", "F"]
    assert siblings("moon") == ["moon"]
    assert (dimension_of("psi"), dimension_of("moon")) == ("pressure", "")
    assert unit_named("LBS") == "lb"
