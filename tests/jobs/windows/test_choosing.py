"""Which limits bind a job: of its operation and step, less what was set aside; optional, only told."""

from jobs.reference import limits
from jobs.windows.choosing import NIGHTS_H, Joined, chosen, on_the_spot
from jobs.windows.label import LabelHours, label_limits
from jobs.windows.limits import Between, Lowest, RainAhead, Rank, Verdict, WhereKnown
from jobs.windows.own import own_limit

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
    assert found.by_key["soil_temperature_f"].rule == WhereKnown(Between("soil_temp_f", 55))
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


def test_weeds_that_nobody_measured_are_told_and_a_crop_that_nobody_measured_closes() -> None:
    """Too tall a crop is damaged, too tall a weed only lives on."""
    crop = {"what": "crop_height_in", "at_most": 12, "source": "maryland-2025"}
    found = chosen("spray", [TALL, crop], limits())
    assert (found.by_key["weed_height_in"].verdict, found.by_key["crop_height_in"].verdict) == (
        Verdict.ADVICE,
        Verdict.WRITTEN_REASON,
    )
    binding, left_out = (({limit.key for limit in some}) for some in found.split(frozenset()))
    assert "crop_height_in" in binding
    assert "weed_height_in" in left_out


def test_a_label_goes_in_the_place_of_default_and_step_and_what_others_add_only_tightens() -> None:
    crop = {"what": "crop_height_in", "at_most": 12, "source": "maryland-2025"}
    label = tuple(label_limits([LabelHours(wind_least_mph=2, wind_most_mph=15, crop_most_in=20)], {}))
    own = own_limit(7, "wind_mph", None, 9, "limit of Old sprayer", Rank.MACHINE)
    found = chosen("spray", [crop], limits(), joined=Joined(label, (own,))).by_key
    assert found["spray_wind"].rule == Between("wind_mph", 2, 15)
    assert (found["crop_height_in"].rule.most, found["crop_height_in"].verdict) == (20, Verdict.STOP)
    assert found["own_7"] == own


def test_where_the_weather_does_not_decide_heat_cold_and_thunder_bind_the_hours_in_which_they_are_known() -> None:
    found = chosen("fence", [], limits(), decides=False)
    assert {limit.key for limit in found.binding} == {"work_heat", "work_cold", "work_thunder"}
    assert all(isinstance(limit.rule, WhereKnown) for limit in found.binding)
    assert found.optional == {"work_heat", "work_cold", "work_thunder"}


def test_what_no_hour_changes_is_said_in_words() -> None:
    rows = [{"what": "deck_height_in", "at_least": 6}, {"what": "wire_volts", "at_least": 5000}, COLD]
    assert on_the_spot(rows) == ["height of cut, in: at least 6", "volts on the wire: at least 5000"]


def test_a_stop_stays_whoever_sets_it_aside_and_the_rest_goes_by_name() -> None:
    found = chosen("spray", [COLD], limits(), {"night_low_f", "spray_wind", "work_heat"})
    assert found.set_aside == ("work_heat", "night_low_f")
    assert "spray_wind" in found.by_key
    assert not {"night_low_f", "work_heat"} & set(found.by_key)
