"""Faults that only the whole of a sequence shows; what one row shows is told in test_reading."""

from dataclasses import replace

import pytest

from jobs.sequences import read
from jobs.sequences.checking import faults_of, lineage
from jobs.sequences.spec import BranchSpec, DeadlineRule
from tests.jobs.sequences.test_reading import HEAD, faults, step

BRANCH = '[[branch]]\nkey = "{0}"\nname = "{0}"\ngroup = "g"\norder = {1}\n'
NESTED = '[[branch]]\nkey = "{0}"\nname = "{0}"\nparent = "{1}"\nopened_by = "a"\noutcomes = ["x"]\n'


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            step("a", 'repeat = { every_days = 9, latest_days = 7, at_most = 2, source = "common-practice" }'),
            "its repeat is due later than it may be put off",
        ),
        (
            step("a", 'repeat = { every_days = 9, until = "11-30", source = "common-practice" }'),
            "its repeat ends on 11-30, outside its season",
        ),
        (
            step("a", 'outcomes = ["good"]\nobserves = { good = "joy" }'),
            "it observes 'joy', which is no known observation",
        ),
        (
            step("a", 'needs = [{ machine = "sprayer", rate_per_acre = 0, rate_unit = "oz", source = "from-memory" }]'),
            "the rate of sprayer lies above 0",
        ),
        (
            step("a", 'from = "05-01"\ndeadline = { day = "04-30", source = "common-practice" }'),
            "its last day 04-30 comes before its first, 05-01",
        ),
        (
            step("a", 'branch = "b"') + NESTED.format("b", "gone"),
            "its parent 'gone' is unknown",
        ),
        (
            step("a", 'outcomes = ["x"]')
            + step("c", 'branch = "b"')
            + NESTED.format("b", "d")
            + NESTED.format("d", "b"),
            "it is nested in itself",
        ),
        (
            step("a", 'branch = "b"') + step("c", 'branch = "d"') + BRANCH.format("b", 1) + BRANCH.format("d", 1),
            "another alternative of the group 'g' has the order 1 too",
        ),
        (
            step("a") + '[[across]]\noperation = "lime"\nto = "a"\nlook_back_days = 0\nsource = "common-practice"\n',
            "it looks back a number of days above 0",
        ),
        (
            step("a")
            + '[[across]]\noperation = "lime"\nto = "a"\nmin = "90 degree_days"\nsource = "common-practice"\n',
            "a wait across seasons is counted in hours, days or rain",
        ),
    ],
)
def test_a_fault_of_the_whole_is_told_in_plain_words(text, told, reference):
    assert told in faults(text, reference)


@pytest.fixture
def sound(reference):
    return read(HEAD + step("a"), reference)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"crop": "moonwheat"}, "The crop 'moonwheat' is unknown."),
        ({"crop": ""}, "It names neither a crop nor a habitat."),
        ({"version": 0}, "Its version is a whole number from 1."),
        ({"steps": ()}, "It has no steps."),
    ],
)
def test_a_head_that_cannot_be_used_is_told(change, told, sound, reference):
    assert faults_of(sound, reference) == []
    assert told in faults_of(replace(sound, **change), reference)


def test_a_season_that_ends_before_it_begins_is_told(sound, reference):
    turned = replace(sound, first=sound.last, last=sound.first)
    assert f"Its season ends on {sound.first} before it begins on {sound.last}." in faults_of(turned, reference)


def test_a_last_day_after_the_freeze_is_no_last_day(sound, reference):
    late = replace(sound.steps[0], deadline=DeadlineRule(None, "common-practice", "common practice", 28, -3))
    assert "Step a: its last day lies a number of days before the freeze, not after it." in faults_of(
        replace(sound, steps=(late,)), reference
    )


def test_a_nesting_in_a_circle_ends_where_it_began(sound):
    ring = replace(sound, branches=(BranchSpec("b", "B", parent="d"), BranchSpec("d", "D", parent="b")))
    assert lineage("b", ring) == ["b", "d"]
