"""The labels of a mix replace general defaults; the stricter of the mix binds; what nobody typed brings the default."""

from dataclasses import replace

from jobs.windows.label import DRY_LEAF, NIGHT, WIND, LabelHours, label_limits
from jobs.windows.limits import Between, DryAhead, Limit, Lowest, Rank, Verdict

DEFAULTS = {
    WIND: Limit(WIND, "wind", "mph", 2, Between("wind_mph", 4, 9), "general"),
    DRY_LEAF: Limit(DRY_LEAF, "rain", "in", 0.1, DryAhead(5, 0.03), "general"),
}
PLAIN = LabelHours()


def rules(*labels: LabelHours) -> dict[str, object]:
    return {limit.key: limit.rule for limit in label_limits(labels, DEFAULTS)}


def test_a_label_that_says_nothing_leaves_the_defaults_alone() -> None:
    assert rules(PLAIN) == {}


def test_a_typed_wind_goes_in_the_place_of_the_default_even_where_it_is_wider() -> None:
    assert rules(replace(PLAIN, wind_least_mph=2, wind_most_mph=15)) == {WIND: Between("wind_mph", 2, 15)}


def test_one_end_that_was_not_typed_stays_the_defaults() -> None:
    assert rules(replace(PLAIN, wind_most_mph=15)) == {WIND: Between("wind_mph", 4, 15)}


def test_of_a_mix_the_stricter_binds() -> None:
    first = replace(PLAIN, wind_least_mph=3, wind_most_mph=8, rain_fast_hours=2, night_low_f=40)
    second = replace(PLAIN, wind_least_mph=5, wind_most_mph=12, rain_fast_hours=3.5, night_low_f=45)
    assert rules(first, second) == {
        WIND: Between("wind_mph", 5, 8),
        DRY_LEAF: DryAhead(4, 0.03),
        NIGHT: Lowest("temp_f", 24, 45),
    }


def test_a_part_of_an_hour_that_must_stay_dry_counts_as_a_whole_one_and_none_as_none() -> None:
    for typed, hours in ((0.5, 1), (1, 1), (1.5, 2), (0, 0)):
        assert rules(replace(PLAIN, rain_fast_hours=typed)) == {DRY_LEAF: DryAhead(hours, 0.03)}


def test_a_material_of_the_mix_without_figures_brings_the_default_along() -> None:
    typed = replace(PLAIN, wind_least_mph=1, wind_most_mph=15, rain_fast_hours=1)
    assert rules(typed, PLAIN) == {WIND: Between("wind_mph", 4, 9), DRY_LEAF: DryAhead(5, 0.03)}


def test_what_a_label_asks_is_a_stop_of_the_labels_rank() -> None:
    (limit,) = label_limits([replace(PLAIN, night_low_f=50)], DEFAULTS)
    assert (limit.rank, limit.verdict, limit.source) == (Rank.LABEL, Verdict.STOP, "label-law")
