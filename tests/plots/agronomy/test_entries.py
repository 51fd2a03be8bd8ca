"""What a calculator asks for: units checked, values held to the sensible range, faults told in sentences."""

import pytest

from plots.agronomy.entries import Absurd, Choice, Number, Numbers, Rows, Words, figure, read_all
from plots.agronomy.measures import Measure

SPEED = Number("speed", "Speed", "mph", 0.5, 20)
SPARE = Number("spare", "Spare", "%", 0, 50, optional=True)
GATES = Number("gates", "Gates", "", 0, 20, default=1, whole=True)
RATE = Number("rate", "Rate", "qt/ac", 0.01, 10, any_of=(("qt/ac", 0.01, 10), ("lb/ac", 0.01, 20)))
SOIL = Choice("soil", "Soil", (("sand", "Sand."), ("clay", "Clay.")))
NAME = Words("name", "Name", pattern=r"\d+-\d+", told_as="an analysis such as 18-46")


@pytest.mark.parametrize(
    ("entry", "told", "value"),
    [
        (SPEED, 5, 5.0),
        (SPEED, "5", 5.0),
        (SPEED, "8.04672 km/h", pytest.approx(5)),
        (SPARE, None, None),
        (SPARE, " ", None),
        (GATES, "", 1),
        (GATES, 3, 3.0),
        (RATE, "2 lb/ac", Measure(2, "lb/ac")),
        (RATE, 2, Measure(2, "qt/ac")),
        (Number("rate", "Rate", "qt/ac", 0, 9, default=1, any_of=RATE.any_of), None, Measure(1, "qt/ac")),
        (SOIL, "clay", "clay"),
        (Choice("soil", "Soil", SOIL.options, default="sand"), None, "sand"),
        (NAME, " 18-46 ", "18-46"),
        (Words("name", "Name", optional=True), None, ""),
        (Numbers("counts", SPEED), "3, 4;5 6", (3.0, 4.0, 5.0, 6.0)),
        (Numbers("counts", SPEED), [3, "4 mph"], (3.0, 4.0)),
        (Numbers("counts", SPEED, optional=True), "", ()),
        (Rows("lines", "Lines", (SPEED,)), None, ()),
        (Rows("lines", "Lines", (SPEED,)), [{"speed": 5}, {"speed": ""}], ({"speed": 5.0},)),
    ],
)
def test_an_entry_is_read_in_its_own_unit(entry, told, value):
    assert entry.read(told) == value


@pytest.mark.parametrize(
    ("entry", "told", "says"),
    [
        (SPEED, None, "Speed: missing. Give 0.5 to 20 mph."),
        (SPEED, 0, "Speed: 0 mph makes no sense. Sensible is 0.5 to 20 mph."),
        (SPEED, "5 lb", "Speed cannot be in lb. Give it in mph, km/h, ft/min or m/s: 0.5 to 20 mph is sensible."),
        (SPEED, True, "Speed: no number. Give 0.5 to 20 mph."),
        (SPEED, float("nan"), "Speed: no number. Give 0.5 to 20 mph."),
        (SPEED, float("inf"), "Speed: no number. Give 0.5 to 20 mph."),
        (SPEED, 10**400, "Speed: no number. Give 0.5 to 20 mph."),
        (SPEED, "fast", "Speed: 'fast' is no number. Give 0.5 to 20 mph."),
        (GATES, 1.5, "Gates: 1.5 makes no sense. Give a whole number, 0 to 20."),
        (GATES, "2 ft", "Gates cannot be in ft. Give it in no unit: 0 to 20 is sensible."),
        (RATE, "50 lb/ac", "Rate: 50 lb/ac makes no sense. Sensible is 0.01 to 10 qt/ac or 0.01 to 20 lb/ac."),
        (SOIL, None, "Soil: missing. Give one of sand, clay."),
        (SOIL, "moon", "Soil: 'moon' is none of them. Give one of sand, clay."),
        (NAME, None, "Name: missing. Give an analysis such as 18-46."),
        (NAME, "a\nb", "Name: no short text. Give an analysis such as 18-46."),
        (NAME, "corn", "Name: 'corn' is none. Give an analysis such as 18-46."),
        (Numbers("counts", SPEED, least=2), "3", "Speed: missing. Give 2 or more numbers, each 0.5 to 20 mph."),
        (Numbers("counts", SPEED), None, "Speed: missing. Give 1 or more numbers, each 0.5 to 20 mph."),
        (Numbers("counts", SPEED), [1] * 61, "Speed: give a list of at most 60 numbers."),
        (Numbers("counts", SPEED), 7, "Speed: give a list of at most 60 numbers."),
        (Rows("lines", "Lines", (SPEED,)), "speed", "Lines: give a list of lines, each with speed."),
        (Rows("lines", "Lines", (SPEED,), least=1), [], "Lines: give 1 to 12 lines, each with speed."),
    ],
)
def test_a_fault_is_told_with_what_is_sensible(entry, told, says):
    with pytest.raises(ValueError, match=r"\.$") as refused:
        entry.read(told)
    assert str(refused.value) == says


def test_all_faults_are_told_at_once_each_by_its_place():
    lines = Rows("lines", "Lines", (SPEED, GATES))
    with pytest.raises(Absurd) as refused:
        read_all((SPEED, lines), {"speed": -1, "lines": [{}, {"speed": 3, "gates": 0.5}], "moon": 1})
    assert set(refused.value.sentences) == {"speed", "lines.1.gates", "moon"}
    assert "Known are lines, speed." in refused.value.sentences["moon"]


@pytest.mark.parametrize(
    ("value", "said"),
    [(0, "0"), (2000, "2,000"), (0.8, "0.8"), (12.375, "12.375"), (1e-9, "0.000000001"), (-3.5, "-3.5")],
)
def test_a_figure_has_no_needless_noughts(value, said):
    assert figure(value) == said
