"""The catalogue of limits: every figure has a source, the label replaces, the others tighten."""

import pytest
from django.conf import settings

from jobs.reference import reference
from jobs.windows.catalogue import limits_of, read_limits
from jobs.windows.limits import Between, Limit, Rank, Verdict

WIND = Limit("spray_wind", "wind", "mph", 2.0, Between("wind_mph", 3, 8), "label-law", verdict=Verdict.STOP)
GOOD = """
[wind]
operations = ["spray"]
what = "wind"
unit = "mph"
scale = 2
between = "wind_mph"
most = 10
verdict = "stop"
source = "a"
"""


def shipped() -> tuple:
    text = (settings.FIXTURES / "limits.toml").read_text()
    return read_limits(text, sources=reference().sources, operations=reference().operations)


def test_every_shipped_limit_names_a_known_source_and_operation() -> None:
    keys = [default.limit.key for default in shipped()]
    assert len(keys) == len(set(keys)) >= 15


def test_every_outdoor_operation_with_weather_has_limits_of_its_own_or_of_all_work() -> None:
    for operation in reference().operations.values():
        assert limits_of(operation.key, shipped())


@pytest.mark.parametrize("operation", ["burn", "spray", "mow", "till", "plant", "spread"])
def test_work_that_weather_decides_has_limits_beside_those_of_all_work(operation: str) -> None:
    assert len(limits_of(operation, shipped())) > len(limits_of("note", shipped()))


def test_the_label_replaces_the_default_of_its_key() -> None:
    found = {limit.key: limit for limit in limits_of("spray", shipped(), label=[WIND])}
    assert found["spray_wind"].rule == Between("wind_mph", 3, 8)
    assert found["spray_wind"].rank is Rank.LABEL


def test_others_are_added_beside_the_default_and_so_only_tighten() -> None:
    mine = Limit("own_wind", "wind", "mph", 2.0, Between("wind_mph", most=30), "manager", Rank.HOLDING)
    found = [limit.key for limit in limits_of("spray", shipped(), tighter=[mine])]
    assert found.count("spray_wind") == 1
    assert "own_wind" in found


def test_only_advice_can_be_set_aside() -> None:
    keys = {limit.key for limit in limits_of("spray", shipped(), set_aside={"spray_wind", "spray_drying"})}
    assert "spray_wind" in keys
    assert "spray_drying" not in keys


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("between", "under"), "names 0 rules"),
        (("most = 10", "most = 10\nlowest = 3"), "names 2 rules"),
        (("most = 10\n", ""), "lacks"),
        (("most = 10", "most = 10\nhours = 3"), "more than it may"),
        (('unit = "mph"\n', ""), "lacks"),
        (("spray", "dance"), "not known"),
        (('source = "a"', 'source = "b"'), "not known"),
        (("scale = 2", "scale = 0"), "step"),
        (('verdict = "stop"', 'verdict = "maybe"'), "Verdict"),
    ],
)
def test_a_table_that_breaks_the_form_is_named(change: tuple[str, str], words: str) -> None:
    assert read_limits(GOOD, sources={"a"}, operations={"spray"})
    with pytest.raises(ValueError, match=words):
        read_limits(GOOD.replace(*change), sources={"a"}, operations={"spray"})
