from datetime import date

import pytest

from jobs.graph.data import Relation
from jobs.sequences import expand
from jobs.sequences.spec import Unit


def rows(expansion, step):
    return next(job for job in expansion.jobs if job.step == step)


def test_a_season_of_corn_2027_begins_in_the_autumn_before(shipped):
    season = expand(shipped.sequences["corn"], 2027, 3.0)
    assert (season.first_day, season.last_day) == (date(2026, 9, 1), date(2028, 3, 15))
    assert (rows(season, "sample_soil").first_day, rows(season, "sample_soil").last_day) == (
        date(2026, 9, 1),
        date(2026, 11, 30),
    )
    assert rows(season, "plant").first_day == date(2027, 4, 20)
    assert rows(season, "store_fence").last_day == date(2028, 3, 15)


def test_every_step_becomes_one_job_and_every_link_one_prerequisite(shipped):
    for spec in shipped.sequences.values():
        season = expand(spec, 2027, 2.0)
        assert [job.step for job in season.jobs] == [step.key for step in spec.steps]
        assert {job.occurrence for job in season.jobs} == {1}
        assert len(season.prerequisites) == len(spec.links)
        assert [branch.key for branch in season.branches] == [branch.key for branch in spec.branches]
        assert len(season.across) == len(spec.across)


def test_the_fence_waits_for_emergence_and_at_most_two_weeks_on_one_prerequisite(shipped):
    season = expand(shipped.sequences["corn"], 2027, 3.0)
    (fence,) = [row for row in season.prerequisites if (row.predecessor, row.successor) == ("plant", "fence")]
    assert (fence.min_amount, fence.min_unit, fence.degree_days) == (100, Unit.DEGREE_DAYS, "86/50")
    assert (fence.max_amount, fence.max_unit) == (14, Unit.DAYS)
    assert fence.confirm == "emerged"
    assert (fence.worth, fence.max_worth) == ("published", "common practice")


def test_a_bean_fence_is_finished_by_predicted_emergence(shipped):
    season = expand(shipped.sequences["soybean"], 2027, 3.0)
    (hot,) = [
        row
        for row in season.prerequisites
        if (row.predecessor, row.successor, row.relation) == ("plant", "fence", Relation.FINISH_FINISH)
    ]
    assert (hot.max_amount, hot.max_unit, hot.confirm) == (130, Unit.DEGREE_DAYS, "")


def test_the_duration_follows_acres_and_the_machine(shipped):
    corn = shipped.sequences["corn"]
    assert rows(expand(corn, 2027, 5.0), "plant").duration_min == 30 + 120
    assert rows(expand(corn, 2027, 5.0, acres_per_hour={"planter": 3.0}), "plant").duration_min == 30 + 100
    assert rows(expand(corn, 2027, 1.0, acres_per_hour={"planter": 7.0}), "plant").duration_min == 30 + 9


def test_a_fence_takes_as_long_as_its_line(shipped):
    corn = shipped.sequences["corn"]
    assert rows(expand(corn, 2027, 1.0, perimeter_ft=700.0), "fence").duration_min == 60 + 120
    # A square acre is 834.8 ft around (side 208.71 ft).
    assert rows(expand(corn, 2027, 1.0), "fence").duration_min == 60 + 144


def test_the_last_day_of_a_brassica_is_the_killing_frost_less_80_days(shipped):
    brassica = shipped.sequences["brassica_summer"]
    late = rows(expand(brassica, 2027, 2.0, freezing_normals={28: date(2027, 10, 28)}), "sow")
    assert late.deadline == date(2027, 8, 9)
    assert late.deadline_note == (
        "first autumn day with a normal low at or below 28 F, 28 Oct, less 80 days; "
        "half of all years or more freeze before it"
    )
    unknown = rows(expand(brassica, 2027, 2.0), "sow")
    assert unknown.deadline == date(2027, 8, 15)
    assert "no normal low at or below 28 F" in unknown.deadline_note


def test_a_replant_option_tells_its_last_day_and_what_closes_it(shipped):
    season = expand(shipped.sequences["corn"], 2027, 3.0, freezing_normals={32: date(2027, 10, 15)})
    options = {branch.key: branch.option for branch in season.branches if branch.option is not None}
    assert options["again_corn"].last_day == date(2027, 6, 15)
    assert options["again_sorghum"].last_day == date(2027, 7, 2)
    days = {
        key: {closing.active: closing.days for closing in options[key].closed_by}
        for key in ("again_soybean", "again_sorghum")
    }
    assert days["again_soybean"]["atrazine"] is None
    assert days["again_sorghum"]["atrazine"] == 0
    assert {branch.parent for branch in season.branches if branch.option is not None} == {"failed"}


def test_repeats_appear_once_with_their_rule(shipped):
    season = expand(shipped.sequences["feed_round"], 2027, 0.1)
    (fill,) = [job for job in season.jobs if job.step == "fill"]
    assert (fill.repeat.every_days, fill.repeat.latest_days, fill.repeat.until) == (28, 35, date(2028, 6, 30))
    assert fill.repeat.until_done == ("stop",)


def test_waits_on_other_seasons_look_back_no_further_than_they_say(shipped):
    season = expand(shipped.sequences["clover_frost_seeding"], 2027, 2.0)
    lime = next(row for row in season.across if row.operation == "lime")
    assert (lime.successor, lime.min_amount, lime.min_unit) == ("sow", 180, Unit.DAYS)
    assert lime.not_before == date(2025, 12, 28)


def test_a_plot_without_acres_is_refused(shipped):
    with pytest.raises(ValueError, match="acres above 0"):
        expand(shipped.sequences["corn"], 2027, 0)
