"""Which limits bind a job: of its operation and step, less what was set aside; optional, only told."""

from jobs.reference import limits
from jobs.windows.choosing import NIGHTS_H, chosen
from jobs.windows.limits import Between, Lowest, RainAhead, Verdict

COLD = {"what": "night_low_f", "at_least": 40, "source": "missouri-ipm-2014"}
SOIL = {"what": "soil_temperature_f", "at_least": 55, "source": "ksu-fjell-2004"}
RAIN = {"what": "rain_after_in", "at_least": 0.5, "source": "illinois-1997-05"}
TALL = {"what": "weed_height_in", "at_most": 4, "source": "delaware-weekly"}


def test_a_night_low_looks_at_the_nights_to_come() -> None:
    found = chosen("spray", [COLD], limits()).by_key["night_low_f"]
    assert found.rule == Lowest("temp_f", NIGHTS_H, 40)
    assert found.verdict is Verdict.ADVICE


def test_a_soil_temperature_binds_only_where_somebody_knows_one() -> None:
    found = chosen("plant", [SOIL], limits())
    assert found.by_key["soil_temperature_f"].rule == Between("soil_temp_f", 55)
    known = {"temp_f", "wind_mph", "heat_index_f", "felt_cold_f", "rain_most_in", "thunder_pct"}
    binding, left_out = found.split(known)
    assert "soil_temperature_f" in {limit.key for limit in left_out}
    assert "soil_temperature_f" in {limit.key for limit in found.split(known | {"soil_temp_f"})[0]}
    assert "work_cold" in {limit.key for limit in binding}


def test_what_is_not_optional_binds_even_where_nothing_is_known_of_it() -> None:
    binding, left_out = chosen("spray", [], limits()).split(frozenset())
    assert "spray_wind" in {limit.key for limit in binding}
    assert {limit.key for limit in left_out} == {"work_thunder"}


def test_rain_that_has_to_follow_is_told_and_closes_nothing() -> None:
    found = chosen("spray", [RAIN], limits())
    assert [limit.rule for limit in found.told] == [RainAhead(168, 0.5)]
    assert "rain_after_in" not in {limit.key for limit in found.binding}
    assert [limit.rule for limit in chosen("spread", [RAIN], limits()).told] == [RainAhead(48, 0.5)]


def test_heights_are_no_limit_of_hours() -> None:
    assert "weed_height_in" not in chosen("spray", [TALL], limits()).by_key


def test_a_stop_stays_whoever_sets_it_aside_and_the_rest_goes_by_name() -> None:
    found = chosen("spray", [COLD], limits(), {"night_low_f", "spray_wind", "work_heat"})
    assert found.set_aside == ("work_heat", "night_low_f")
    assert "spray_wind" in found.by_key
    assert not {"night_low_f", "work_heat"} & set(found.by_key)
