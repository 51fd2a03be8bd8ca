"""Each fault of a sequence is told in one plain sentence; a sequence without fault is read as written."""

import pytest

from jobs.graph.data import Relation, Skip
from jobs.sequences import SequenceError, from_document, read
from jobs.sequences.spec import Amount, Unit

HEAD = """
key = "plot"
version = 1
name = "A plot"
purpose = "To be read."
crop = "corn"
region = "Here."
season = { from = "-1 09-01", to = "10-31" }
"""


def step(key: str, more: str = "", operation: str = "mow") -> str:
    return f"""
[[step]]
key = "{key}"
operation = "{operation}"
title = "Do {key}"
instruction = "Do it well."
source = "common-practice"
{more}
"""


def link(before: str, after: str, more: str = 'source = "common-practice"') -> str:
    return f'[[link]]\nbefore = "{before}"\nafter = "{after}"\n{more}\n'


def faults(text: str, reference) -> str:
    with pytest.raises(SequenceError) as refused:
        read(HEAD + text, reference)
    return " ".join(refused.value.faults)


def test_a_sequence_is_read_as_written(reference):
    spec = read(
        HEAD
        + step("mow", 'from = "04-01"\nto = "04-30"\nskip = "satisfied"')
        + step("spray", 'from = "04-10"\nto = "05-31"', "spray")
        + link(
            "mow",
            "spray",
            'min = "10 days"\nmax = "30 days"\nconfirm = "regrowth"\n'
            'source = "from-memory"\nmax_source = "common-practice"',
        ),
        reference,
    )
    assert str(spec.first) == "-1 09-01"
    mow, spray = spec.steps
    assert (str(mow.first), str(mow.last), mow.skip) == ("04-01", "04-30", Skip.SATISFIED)
    assert mow.worth == "common practice"
    assert spray.skip is Skip.PASSED_OVER
    assert spray.hazards == ("pesticide", "machine", "lone_work")
    assert [(need.kind, need.name) for need in spray.needs] == [
        ("machine", "sprayer"),
        ("skill", "pesticide applicator"),
    ]
    (tie,) = spec.links
    assert (tie.before, tie.after, tie.relation) == ("mow", "spray", Relation.FINISH_START)
    assert (tie.minimum, tie.maximum) == (Amount(10.0, Unit.DAYS), Amount(30.0, Unit.DAYS))
    assert (tie.worth, tie.max_worth, tie.confirm) == ("from memory", "common practice", "regrowth")


def test_the_stored_document_reads_to_the_same_sequence_as_the_text(shipped, reference):
    for key, document in shipped.documents.items():
        assert from_document(document, reference) == shipped.sequences[key]


def test_a_wait_may_be_counted_from_observed_rain(reference):
    spec = read(
        HEAD
        + step("spray", operation="spray")
        + step("plant", operation="plant")
        + link("spray", "plant", 'min = "1 rain_in + 28 days"\nsource = "msstate-bond-2014"'),
        reference,
    )
    assert spec.links[0].minimum == Amount(1.0, Unit.RAIN_IN, 28.0)
    assert spec.links[0].worth == "published"


def test_one_row_may_name_several_predecessors(reference):
    text = HEAD + step("a") + step("b") + step("c")
    spec = read(
        text + '[[link]]\nbefore = ["a", "b"]\nafter = "c"\nmin = "2 days"\nsource = "common-practice"\n', reference
    )
    assert [(tie.before, tie.after) for tie in spec.links] == [("a", "c"), ("b", "c")]


def test_text_that_is_not_well_formed_is_refused(reference):
    with pytest.raises(SequenceError, match="not well formed"):
        read("key = ", reference)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (step("a") + link("a", "gone"), "the step 'gone' is unknown"),
        (step("a") + step("b") + link("a", "b", 'min = "3 days"'), "the wait has no source"),
        (step("a") + step("b") + link("a", "b", 'source = "hearsay"'), "the unknown source 'hearsay'"),
        (
            step("a") + step("b") + link("a", "b", 'min = "9 days"\nmax = "7 days"\nsource = "common-practice"'),
            "its minimum wait is longer than its maximum",
        ),
        (
            step("a") + step("b") + link("a", "b", 'min = "49 hours"\nmax = "2 days"\nsource = "common-practice"'),
            "its minimum wait is longer than its maximum",
        ),
        (
            step("a") + step("b") + link("a", "b", 'min = "3 weeks"\nsource = "common-practice"'),
            "the unknown unit 'weeks'; use hours, days, degree_days, rain_in",
        ),
        (step("a") + step("b") + link("a", "b", 'min = "soon"\nsource = "common-practice"'), "'soon' is unreadable"),
        (
            step("a") + step("b") + link("a", "b", 'min = "100 degree_days"\nsource = "common-practice"'),
            "says how they are counted",
        ),
        (
            step("a")
            + step("b")
            + link("a", "b", 'min = "-10 degree_days"\ndegree_days = "50"\nsource = "common-practice"'),
            "a lead (a minimum below 0) is counted in hours or days",
        ),
        (
            step("a") + step("b") + link("a", "b", 'max = "1 rain_in"\nsource = "common-practice"'),
            "a maximum is counted in hours, days or degree days",
        ),
        (
            step("a") + step("b") + link("a", "b", 'confirm = "luck"\nsource = "common-practice"'),
            "confirmed by 'luck', which is no known observation",
        ),
        (step("a") + step("b") + link("a", "b") + link("a", "b"), "The link a to b (FS) is given twice"),
        (step("a") + step("b") + link("a", "b", 'relation = "XX"\nsource = "common-practice"'), "relation 'XX'"),
        (step("a", operation="juggle"), "the field operation 'juggle' is unknown"),
        (step("a") + step("a"), "Step a is given twice"),
        (step("a", 'from = "02-30"'), "a day that the calendar does not have"),
        (step("a", 'from = "06-01"\nto = "05-01"'), "its dates end on 05-01 before they begin on 06-01"),
        (step("a", 'to = "11-30"'), "leave the season -1 09-01 to 10-31"),
        (step("a", 'from = "05-01"\nto = "05-31"\nbest = ["04-01", "05-10"]'), "best days 04-01 to 05-10 leave"),
        (
            step("a", 'from = "05-01"\nto = "05-31"')
            + step("b", 'from = "06-01"\nto = "06-05"')
            + link("a", "b", 'min = "40 days"\nsource = "common-practice"'),
            "b ends on 06-05, before a and the wait can be over",
        ),
        (step("a", 'deadline = { day = "05-01" }'), "its last day has no source"),
        (step("a", 'deadline = { source = "common-practice" }'), "the last day needs 'day', or 'freeze_f'"),
        (step("a", 'repeat = { every_days = 7, source = "common-practice" }'), "its repeat has no end"),
        (
            step("a", 'repeat = { every_days = 7, until_done = ["b"], source = "common-practice" }'),
            "its repeat ends with 'b', which is no other step",
        ),
        (step("a", 'repeat = { every_days = 0, at_most = 2, source = "common-practice" }'), "above 0"),
        (step("a", 'branch = "gone"'), "its branch 'gone' is unknown"),
        (step("a", 'hazards = ["bees"]'), "its hazard 'bees' is unknown"),
        (step("a", "least_crew = 1", "burn"), "work with fire is never for fewer than two people"),
        (step("a", 'colour = "red"'), "'colour' is no word of this table"),
        (step("a", 'skip = "maybe"'), "the skip effect 'maybe' is unknown"),
        (step("a", 'observes = { good = "emerged" }'), "the outcome 'good', which it does not have"),
        (step("a", 'needs = [{ machine = "dragon" }]'), "the unknown kind of machine 'dragon'"),
        (step("a", 'limits = [{ what = "mood", at_least = 1, source = "common-practice" }]'), "no known limit"),
        (step("a", "duration = { acres_per_hour = 0 }"), "rates of work lie above 0"),
        (step("a", "duration = { minutes = 20 }"), "its duration has no worth"),
        (step("a", 'branch = "b"') + '[[branch]]\nkey = "b"\nname = "B"\n', "nothing opens it"),
        (
            step("a", 'branch = "b"') + '[[branch]]\nkey = "b"\nname = "B"\nopened_by = "gone"\noutcomes = ["x"]\n',
            "opened by the unknown step 'gone'",
        ),
        (
            step("a", 'branch = "b"')
            + step("c", 'outcomes = ["good"]')
            + '[[branch]]\nkey = "b"\nname = "B"\nopened_by = "c"\noutcomes = ["bad"]\n',
            "the outcome 'bad', which c does not have",
        ),
        (
            step("a", 'branch = "b"\noutcomes = ["x"]')
            + '[[branch]]\nkey = "b"\nname = "B"\nopened_by = "a"\noutcomes = ["x"]\n',
            "it is opened by its own step a",
        ),
        (
            step("a", 'branch = "b"') + '[[branch]]\nkey = "b"\nname = "B"\ngroup = "g"\norder = 1\n',
            "the only alternative of the group 'g'",
        ),
        (
            step("a", 'branch = "b"')
            + step("c", 'branch = "d"')
            + '[[branch]]\nkey = "b"\nname = "B"\ngroup = "g"\norder = 1\n'
            + '[[branch]]\nkey = "d"\nname = "D"\ngroup = "g"\norder = 2\n'
            + link("a", "c"),
            "it ties two alternatives of one group",
        ),
        (
            step("a") + '[[across]]\noperation = "lime"\nto = "gone"\nsource = "common-practice"\n',
            "the step 'gone' is unknown",
        ),
        (step("a") + '[[across]]\noperation = "lime"\nto = "a"\nmin = "180 days"\n', "the wait has no source"),
    ],
)
def test_a_fault_is_told_in_plain_words(text, told, reference):
    assert told in faults(text, reference)


def test_a_cycle_is_named_by_its_titles(reference):
    text = step("a") + step("b") + step("c") + link("a", "b") + link("b", "c") + link("c", "a")
    assert "circle: Do a before Do b before Do c before Do a." in faults(text, reference)


def test_a_branch_may_not_come_before_the_step_that_opens_it(reference):
    text = (
        step("look", 'outcomes = ["bad"]')
        + step("again", 'branch = "failed"')
        + '[[branch]]\nkey = "failed"\nname = "Failed"\nopened_by = "look"\noutcomes = ["bad"]\n'
        + link("again", "look")
    )
    assert "circle: Do look before Do again before Do look." in faults(text, reference)


def test_all_faults_are_told_at_once(reference):
    told = faults(step("a", operation="juggle") + step("b", 'from = "02-30"') + link("a", "gone"), reference)
    assert all(part in told for part in ("juggle", "02-30", "gone"))
