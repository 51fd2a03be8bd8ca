"""Growth against printed figures: late plantings, stages of sorghum, hybrids before the freeze, soil temperatures.

Each row names where its figure is printed. "Sums" of a table of stages are printed twice, as the sum and as what is
left to ripeness; both are held."""

from datetime import date
from pathlib import Path

import pytest
from django.conf import settings

from jobs.reference import reference
from plots.agronomy.frost import LATE_SEED_SHARE, days_to_ripe, usable_days
from plots.agronomy.growth import Stages, late_requirement, read_stages

AGF_101 = "Ohio State University Extension AGF-101, Eckert and Thomison, 2017"
KSU_661 = "Kansas State University eUpdate 661, table 1"
HPRCC = "High Plains Regional Climate Center, crop_sorghum.txt"

KANSAS = [
    ("emergence", 99, 198),
    ("3rd leaf", 252, 360),
    ("5th leaf", 396, 594),
    ("growing point differentiation", 702, 1152),
    ("flag leaf", 954, 1404),
    ("boot", 1206, 1647),
    ("mid bloom", 1440, 1908),
    ("soft dough", 1746, 2196),
    ("hard dough", 2196, 2646),
    ("black layer", 2556, 3006),
]
PLAINS = [
    ("3 leaves", 200, 200, 200),
    ("5 leaves", 484, 484, 484),
    ("growing point differentiation", 748, 748, 748),
    ("final leaf", 990, 990, 990),
    ("boot", 1232, 1232, 1232),
    ("half bloom", 1466.8, 1528, 1589.2),
    ("soft dough", 1616, 1716, 1816),
    ("hard dough", 1808, 1958, 2108),
    ("ripe", 2000, 2200, 2400),
]
SOIL = [
    ("corn", "nebraska", 55, 55),
    ("soybean", "nebraska", 59, 59),
    ("grain_sorghum", "nebraska", 65, 65),
    ("sunflower", "nebraska", 60, 60),
    ("oats", "nebraska", 43, 43),
    ("cereal_rye", "nebraska", 41, 41),
    ("alfalfa", "nebraska", 45, 45),
    ("corn", "kansas", 50, 50),
    ("soybean", "kansas", 55, 60),
    ("grain_sorghum", "kansas", 65, 70),
    ("sunflower", "kansas", 50, 60),
    ("corn", "column", 50, 50),
    ("soybean", "column", 55, 55),
]


@pytest.fixture(scope="module")
def stages() -> dict[str, Stages]:
    text = (Path(settings.FIXTURES) / "growth.toml").read_text(encoding="utf-8")
    known = reference()
    return {one.key: one for one in read_stages(text, sources=known.sources, crops=known.crops)}


def test_a_hybrid_of_2700_planted_on_the_thirtieth_of_may_needs_just_over_2500() -> None:
    rate = next(value for value in reference().crops["corn"].values if value.name.startswith("degree_days_lost"))
    assert rate.low == 6.8, AGF_101
    assert late_requirement(2700, date(2027, 5, 30), less_per_day=rate.low) == pytest.approx(2502.8), AGF_101
    assert late_requirement(2700, date(2027, 4, 20), less_per_day=rate.low) == 2700


@pytest.mark.parametrize(("stage", "early", "late"), KANSAS)
def test_sorghum_reaches_a_stage_at_the_printed_sum(stages, stage: str, early: float, late: float) -> None:
    table = stages["sorghum_kansas"]
    for variety, printed in (("medium_early", early), ("medium_late", late)):
        assert table.at(variety, printed)[0] == stage, KSU_661
        assert table.at(variety, printed - 0.5)[0] != stage, KSU_661


@pytest.mark.parametrize(("stage", "early", "late"), KANSAS[:-1])
def test_what_is_left_to_black_layer_is_the_printed_remainder(stages, stage: str, early: float, late: float) -> None:
    """2556 and 3006 in all nine stages."""
    table = stages["sorghum_kansas"]
    assert table.left("medium_early", stage) == 2556 - early, KSU_661
    assert table.left("medium_late", stage) == 3006 - late, KSU_661


@pytest.mark.parametrize(("stage", "early", "mid", "late"), PLAINS)
def test_sorghum_of_the_plains_counted_from_emergence(
    stages, stage: str, early: float, mid: float, late: float
) -> None:
    table = stages["sorghum_plains"]
    assert table.zero == "emergence"
    for variety, printed in (("early", early), ("mid", mid), ("late", late)):
        assert table.at(variety, printed)[0] == stage, HPRCC
        assert table.at(variety, printed - 0.1)[0] != stage, HPRCC


def test_the_two_tables_of_sorghum_have_their_own_zero_and_cap(stages) -> None:
    kansas, plains = stages["sorghum_kansas"], stages["sorghum_plains"]
    assert (kansas.zero, kansas.spec, plains.zero, plains.spec) == ("planting", "100/50", "emergence", "86/50")


def test_corn_comes_up_at_100_to_120_and_has_three_leaves_at_about_350(stages) -> None:
    values = {value.name: (value.low, value.high) for value in reference().crops["corn"].values}
    assert (values["emergence"], values["third_leaf"]) == ((100, 120), (350, 350)), "Karhoff 2023"
    assert stages["corn_ohio"].at("any", 349) == ("emergence", "3rd leaf", 1), "Karhoff 2023"


def test_a_sorghum_hybrid_is_ripe_ten_days_before_the_mean_first_freeze() -> None:
    """From planting to the mean first freeze less 10; 45 days from bloom; 20 % more seed when late."""
    source = "Sorghum Checkoff, B. Bean, June 2020"
    assert usable_days(date(2027, 6, 20), date(2027, 10, 13)) == 115 - 10, source
    assert days_to_ripe(bloom=60) == 105, source
    assert days_to_ripe(ripe=95, bloom=70) == 95
    assert LATE_SEED_SHARE == 1.2, source
    span = next(value for value in reference().crops["grain_sorghum"].values if value.name == "maturity")
    assert (span.low, span.high) == (95, 125), source


@pytest.mark.parametrize(("crop", "where", "low", "high"), SOIL)
def test_the_least_soil_temperature_under_each_source(crop: str, where: str, low: float, high: float) -> None:
    """Nebraska CropWatch 2011; Kansas State, Fjell 2004; a South Dakota column. They disagree, so all three stand."""
    values = {value.name: (value.low, value.high) for value in reference().crops[crop].values}
    assert values[f"soil_minimum_{where}"] == (low, high)
