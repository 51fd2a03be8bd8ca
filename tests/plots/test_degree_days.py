"""Rules of degree days, curves and the lags counted on them (D4, D5)."""

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plots.degree_days import (
    CORN,
    FAR,
    NEG,
    Curve,
    DegreeDaySpec,
    NormalDay,
    day_starts,
    days_from_hours,
    degree_day_curve,
    degree_days,
    hundredths,
    rain_curve,
)

CENTRAL = "America/Chicago"
DAY = 1_440


def curve_of(*values: int, start: int = 0) -> Curve:
    return Curve([start + DAY * k for k in range(len(values) + 1)], values, ["observed"] * len(values))


# One day


def test_a_cold_day_counts_nothing_and_never_less():
    assert degree_days(45, 30) == 0
    assert degree_days(45, 30, DegreeDaySpec(40)) == 0


def test_modified_method_clamps_both_ends_of_both_temperatures():
    assert degree_days(100, 90) == 3_600
    assert degree_days(100, 20) == 1_800


def test_plain_base_averages_first_and_may_be_capped():
    assert degree_days(60, 30, DegreeDaySpec(40)) == 500
    assert degree_days(110, 80, DegreeDaySpec(40)) == 5_500
    assert degree_days(110, 80, DegreeDaySpec(40, 86)) == 4_600


def test_half_hundredths_go_up():
    assert degree_days(60.01, 60.0) == 1_001
    assert hundredths(0.125) == 13
    assert hundredths(-0.125) == -12


def test_a_low_above_the_high_is_refused():
    with pytest.raises(ValueError, match="The low 61 is above the high 60"):
        degree_days(60, 61)


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_what_is_no_number_is_refused(value):
    with pytest.raises(ValueError, match="not a number"):
        degree_days(value, 50)


@given(st.floats(-80, 140), st.floats(0, 60), st.floats(0, 20))
def test_a_warmer_day_never_counts_less(low, spread, warmer):
    for spec in (CORN, DegreeDaySpec(40), DegreeDaySpec(40, 80)):
        assert degree_days(low + spread, low, spec) <= degree_days(low + spread + warmer, low + warmer, spec)


@pytest.mark.parametrize(
    ("key", "spec"),
    [("86/50", CORN), ("100/50", DegreeDaySpec(50, 100, "modified")), (" 40 ", DegreeDaySpec(40))],
)
def test_a_spec_reads_its_short_form_and_writes_it(key, spec):
    assert DegreeDaySpec.parse(key) == spec
    assert spec.key == key.strip()


def test_a_capped_plain_spec_says_both_numbers():
    assert DegreeDaySpec(40, 86).key == "40 to 86"


@pytest.mark.parametrize("key", ["", "corn", "/50", "86/", "nan", "inf/50", "86/50/40"])
def test_what_names_no_spec_is_refused_with_an_example(key):
    with pytest.raises(ValueError, match="like 86/50, or a base like 40"):
        DegreeDaySpec.parse(key)


def test_a_spec_that_contradicts_itself_is_refused():
    with pytest.raises(ValueError, match="not above the base"):
        DegreeDaySpec(50, 50)
    with pytest.raises(ValueError, match="needs a cap"):
        DegreeDaySpec(50, None, "modified")
    with pytest.raises(ValueError, match="'modified' or 'simple'"):
        DegreeDaySpec(50, 86, "sine")


# Days


def test_a_spring_day_has_23_hours_and_an_autumn_day_25():
    spring = day_starts(CENTRAL, date(2026, 3, 7), 3)
    autumn = day_starts(CENTRAL, date(2026, 10, 31), 3)
    assert [later - earlier for earlier, later in pairwise(spring)] == [1_440, 1_380, 1_440]
    assert [later - earlier for earlier, later in pairwise(autumn)] == [1_440, 1_500, 1_440]


def test_where_midnight_is_skipped_the_day_starts_at_the_skip():
    # Cuba put its clocks from 0:00 to 1:00 on 8 March 2026 by the zone data: the day begins at 5:00 UTC either way.
    (start, _) = day_starts("America/Havana", date(2026, 3, 8), 1)
    local = datetime.fromtimestamp(start * 60, ZoneInfo("America/Havana"))
    before = datetime.fromtimestamp(start * 60 - 60, ZoneInfo("America/Havana"))
    assert (local.date(), local.hour, before.date()) == (date(2026, 3, 8), 1, date(2026, 3, 7))


@given(
    st.sampled_from([CENTRAL, "America/Havana", "Europe/London", "UTC"]), st.dates(date(1990, 1, 1), date(2040, 1, 1))
)
def test_each_day_starts_with_the_first_instant_of_its_date(zone, day):
    start, end = day_starts(zone, day, 1)
    tz = ZoneInfo(zone)
    assert datetime.fromtimestamp(start * 60, tz).date() == day
    assert datetime.fromtimestamp(start * 60 - 60, tz).date() == day - timedelta(days=1)
    assert datetime.fromtimestamp(end * 60 - 60, tz).date() == day


def hours_of(day: date, hours: range, temp: float = 60) -> dict[int, float]:
    first = datetime(day.year, day.month, day.day, tzinfo=ZoneInfo(CENTRAL)).astimezone(UTC)
    return {int(first.timestamp()) // 60 + 60 * hour: temp + hour for hour in hours}


def test_twenty_hours_make_a_day_and_nineteen_do_not():
    day = date(2026, 5, 4)
    assert days_from_hours(hours_of(day, range(2, 22)), CENTRAL) == {day: (81, 62)}
    assert days_from_hours(hours_of(day, range(2, 21)), CENTRAL) == {}


def test_two_readings_in_one_hour_are_one_hour():
    day = date(2026, 5, 4)
    hours = hours_of(day, range(19))
    hours[min(hours) + 20] = 12.0
    assert days_from_hours(hours, CENTRAL) == {}
    hours |= hours_of(day, range(19, 20))
    assert days_from_hours(hours, CENTRAL) == {day: (79, 12.0)}


# The four lag functions


def test_counting_starts_the_day_after_and_is_reached_when_the_day_ends():
    curve = curve_of(5_000, 900, 1_100, 1_450)
    noon_of_day_0 = 720
    assert curve.reach(noon_of_day_0, 2_000) == 3 * DAY
    assert curve.reach(noon_of_day_0, 2_001) == 4 * DAY
    assert curve.reach(noon_of_day_0, 3_451) == FAR


def test_the_latest_anchor_is_the_last_minute_of_its_day():
    curve = curve_of(5_000, 900, 1_100, 1_450)
    assert curve.latest_anchor(3 * DAY, 2_000) == DAY - 1
    assert curve.latest_anchor(3 * DAY - 1, 2_000) == NEG
    assert curve.latest_anchor(100, 1) == NEG
    assert curve.latest_anchor(FAR, 2_000) == FAR


def test_a_maximum_holds_until_the_minute_before_the_sum_is_exceeded():
    curve = curve_of(5_000, 900, 1_100, 1_450)
    assert curve.hold(0, 899) == 2 * DAY - 1
    assert curve.hold(0, 900) == 3 * DAY - 1
    assert curve.hold(0, 3_450) == FAR


def test_the_earliest_anchor_lets_a_maximum_last_until_the_instant():
    curve = curve_of(5_000, 900, 1_100, 1_450)
    assert curve.earliest_anchor(3 * DAY, 1_000) == 2 * DAY
    assert curve.earliest_anchor(3 * DAY - 1, 1_000) == NEG
    assert curve.earliest_anchor(10, 1_000) == NEG


def test_an_anchor_outside_the_curve_is_not_known():
    curve = curve_of(100, 100, start=DAY)
    for anchor in (DAY - 1, 3 * DAY):
        assert curve.reach(anchor, 1) == FAR
        assert curve.hold(anchor, 1) == FAR
        assert curve.counted(anchor, 3 * DAY) is None


def test_a_curve_without_days_knows_nothing():
    curve = Curve([0], [], [])
    assert (curve.reach(0, 1), curve.hold(0, 1)) == (FAR, FAR)
    assert (curve.latest_anchor(5, 1), curve.earliest_anchor(5, 1)) == (NEG, NEG)
    assert len(curve) == 0


def test_no_amount_is_reached_when_the_anchor_day_ends_never_before_it():
    curve = curve_of(100, 0, 0, 100)
    assert curve.reach(2 * DAY + 5, 0) == 3 * DAY
    assert curve.latest_anchor(3 * DAY, 0) == 3 * DAY - 1


def test_what_has_been_counted_is_the_sum_of_ended_days():
    curve = curve_of(5_000, 900, 1_100, 1_450)
    assert curve.counted(10, 3 * DAY - 1) == 900
    assert curve.counted(10, 3 * DAY) == 2_000
    assert curve.counted(3 * DAY, DAY) == 0


@pytest.mark.parametrize(
    ("starts", "values", "sources", "words"),
    [
        ([0], [1], ["observed"], "1 days need 2 day starts"),
        ([0, 1], [1], [], "1 sources"),
        ([5, 1], [1], ["observed"], "out of order"),
        ([0, 1], [-1], ["observed"], "below 0"),
    ],
)
def test_a_curve_that_does_not_fit_together_is_refused(starts, values, sources, words):
    with pytest.raises(ValueError, match=words):
        Curve(starts, values, sources)


@st.composite
def curves(draw):
    lengths = draw(st.lists(st.sampled_from([1, 2, 3, 1_380, 1_440, 1_500]), min_size=1, max_size=12))
    starts = [draw(st.integers(-3_000, 3_000))]
    for length in lengths:
        starts.append(starts[-1] + length)
    values = draw(st.lists(st.sampled_from([0, 0, 1, 2, 5, 1_000]), min_size=len(lengths), max_size=len(lengths)))
    return Curve(starts, values, ["observed"] * len(values))


@st.composite
def questions(draw):
    curve = draw(curves())
    near = st.sampled_from([start + off for start in curve.day_starts for off in (-1, 0, 1)])
    inside = st.integers(curve.day_starts[0], curve.day_starts[-1] - 1)
    anchor = draw(inside | near.filter(lambda t: curve.day(t) is not None))
    instant = draw(st.integers(curve.day_starts[0] - 5, curve.day_starts[-1] + 5) | near | st.sampled_from([NEG, FAR]))
    sums = [0, 1, 2, 1_000, *(later - earlier for earlier in curve.totals for later in curve.totals)]
    amount = draw(st.sampled_from([amount + off for amount in sums if amount >= 0 for off in (0, 1)]))
    return curve, anchor, instant, amount


@settings(max_examples=500)
@given(questions())
def test_law_reach_and_latest_anchor_say_the_same(question):
    curve, t, s, amount = question
    assert (curve.reach(t, amount) <= s) == (t <= curve.latest_anchor(s, amount))


@settings(max_examples=500)
@given(questions())
def test_law_hold_and_earliest_anchor_say_the_same(question):
    curve, t, s, amount = question
    assert (curve.hold(t, amount) >= s) == (t >= curve.earliest_anchor(s, amount))


@settings(max_examples=300)
@given(questions())
def test_reach_and_hold_agree_with_counting_day_by_day(question):
    curve, t, _, amount = question
    day = max(k for k in range(len(curve)) if curve.day_starts[k] <= t)
    reached = [k for k in range(day, len(curve)) if sum(curve.values[day + 1 : k + 1]) >= amount]
    exceeded = [k for k in range(day, len(curve)) if sum(curve.values[day + 1 : k + 1]) > amount]
    assert curve.reach(t, amount) == (curve.day_starts[reached[0] + 1] if reached else FAR)
    assert curve.hold(t, amount) == (curve.day_starts[exceeded[0] + 1] - 1 if exceeded else FAR)


@given(curves(), st.integers(0, 1_100))
def test_a_later_anchor_is_never_reached_earlier(curve, amount):
    inside = range(curve.day_starts[0], curve.day_starts[-1], 97)
    reached = [curve.reach(t, amount) for t in inside]
    held = [curve.hold(t, amount) for t in inside]
    assert reached == sorted(reached)
    assert held == sorted(held)


# Building a curve

MAY = date(2026, 5, 10)
FLAT = {f"{date(2024, 1, 1) + timedelta(days=k):%m-%d}": NormalDay(70, 50) for k in range(366)}


def built(**changes):
    facts = {
        "spec": CORN,
        "zone": CENTRAL,
        "first_day": date(2026, 5, 7),
        "today": MAY,
        "observed": {date(2026, 5, 7): (80, 60), date(2026, 5, 9): (60, 40)},
        "forecast": {date(2026, 5, 8): (99, 80), MAY: (90, 70), date(2026, 5, 11): (64, 50)},
        "normals": FLAT,
    }
    return degree_day_curve(**(facts | changes))


def test_a_day_is_observed_else_forecast_else_normal():
    report = built()
    assert report.curve.values[:6] == [2_000, 1_000, 500, 2_800, 700, 1_000]
    assert report.curve.sources[:6] == ["observed", "normal", "observed", "forecast", "forecast", "normal"]


def test_a_missing_past_day_counts_as_normal_and_is_named():
    assert built().missing == (date(2026, 5, 8),)


def test_today_is_not_missing_yet():
    assert built(forecast={}).missing == (date(2026, 5, 8),)


def test_an_observation_of_today_goes_before_its_forecast():
    report = built(observed={MAY: (50, 40)})
    assert report.curve.sources[3] == "observed"


def test_an_observation_dated_after_today_is_none():
    report = built(observed={date(2026, 5, 12): (99, 99)}, forecast={})
    assert report.curve.sources[5] == "normal"


def test_normals_carry_two_years_past_the_last_known_day_and_then_end():
    report = built()
    days = (date(2028, 5, 11) - date(2026, 5, 7)).days + 1
    assert len(report.curve) == days
    assert report.ends_at_gap is None
    assert report.curve.reach(report.curve.day_starts[-2], 1) == FAR


def test_with_nothing_known_the_two_years_count_from_today():
    assert len(built(observed={}, forecast={}, first_day=MAY).curve) == (date(2028, 5, 10) - MAY).days + 1


def test_two_years_past_a_leap_day_is_28_february():
    leap = date(2028, 2, 29)
    report = built(observed={leap: (80, 60)}, forecast={}, today=leap, first_day=leap)
    assert len(report.curve) == (date(2030, 2, 28) - leap).days + 1


def test_29_february_counts_as_the_28th():
    normals = FLAT | {"02-28": NormalDay(80, 60), "02-29": NormalDay(0, 0)}
    first = date(2028, 2, 27)
    report = built(first_day=first, today=first, observed={}, forecast={}, normals=normals)
    assert report.curve.values[:4] == [1_000, 2_000, 2_000, 1_000]


def test_a_published_normal_goes_before_one_reckoned_from_high_and_low():
    published = {key: NormalDay(70, 50, 11.5) for key in FLAT}
    assert built(normals=published).curve.values[1] == 1_150
    assert built(normals=published).computed_normals is False
    assert built().computed_normals is True


def test_the_curve_ends_before_a_day_that_nothing_is_known_about():
    report = built(normals={})
    assert report.curve.values == [2_000]
    assert report.ends_at_gap == date(2026, 5, 8)
    assert built(normals={"05-08": NormalDay(70, None)}).ends_at_gap == date(2026, 5, 8)


def test_the_curve_starts_a_day_before_the_first_one_that_anything_is_known_about():
    report = built(normals={}, first_day=date(2026, 5, 1))
    assert (report.first_day, report.curve.sources[:2]) == (date(2026, 5, 6), ["not known", "observed"])
    sixth = report.curve.day_starts[0] + 900
    assert report.curve.counted(sixth, report.curve.day_starts[2]) == report.curve.values[1]
    assert report.curve.day_starts == day_starts(CENTRAL, date(2026, 5, 6), 2)


# Rain


def test_rain_that_was_not_observed_counts_nothing():
    first = date(2026, 5, 4)
    curve = rain_curve(CENTRAL, first, first + timedelta(days=3), {first: 2.0, first + timedelta(days=2): 1.0})
    assert curve.values == [200, 0, 100, 0]
    assert curve.sources == ["observed", "missing", "observed", "missing"]


def test_a_rain_clock_runs_from_the_day_the_amount_was_observed():
    first = date(2026, 5, 4)
    starts = day_starts(CENTRAL, first, 5)
    rain = {first + timedelta(days=k): inches for k, inches in enumerate([3.0, 0.4, 0.59, 0.01, 0.0])}
    curve = rain_curve(CENTRAL, first, first + timedelta(days=4), rain)
    assert curve.reach(starts[0] + 60, 100) == starts[4]
    assert curve.reach(starts[1] + 60, 100) == FAR


def test_a_rain_curve_of_no_days_is_never_reached():
    assert rain_curve(CENTRAL, date(2026, 5, 4), date(2026, 5, 3), {}).reach(0, 1) == FAR
