"""The state of a job is the first that holds (D15), and nothing changes before the walk says to look again (D17)."""

from dataclasses import replace

import pytest

from jobs.facts import Closure, ConsentFact, JobFacts, MachineFact, MachineNeed, SkillNeed, SprayedBefore
from jobs.folding import Trouble
from jobs.graph.data import FAR, Arc, Branch, BranchState, Fixed, Moment, Node, Skip
from jobs.holds import HoldKind
from jobs.walk import State, Walk
from tests.jobs.test_holds import (
    DAY,
    FOLLOWS,
    NOW,
    PLANT,
    SPRAY,
    WAITS_HEAT,
    WAITS_LOOK,
    WAITS_RAIN,
    begun,
    done,
    kinds,
    rain_on,
    reckon,
    todo,
    warm_curve,
)

CALLED_FOR = Branch(1, 1, opened_by=SPRAY, outcomes=frozenset({"failed"}))


def state(found: Walk, job: int = PLANT) -> State:
    return found.results[job].state


@pytest.mark.parametrize(
    ("told", "is_"),
    [
        (done(PLANT, NOW - 60, called_off=True), State.DONE),
        (todo(PLANT, called_off=True, started=Moment.at(NOW - 60)), State.CALLED_OFF),
        (todo(PLANT, skipped=Skip.SATISFIED, skipped_at=NOW - 60), State.CALLED_OFF),
        (begun(PLANT, NOW - 60, deadline=NOW - DAY), State.UNDER_WAY),
        (todo(PLANT, deadline=NOW - DAY), State.LAPSED),
        (todo(PLANT, spans=((20 * DAY, 40 * DAY),)), State.HELD),
        (todo(PLANT), State.OPEN),
    ],
)
def test_the_first_state_that_holds_is_the_state(told: Node, is_: State):
    facts = JobFacts(PLANT, first=20 * DAY, last=40 * DAY) if is_ is State.HELD else JobFacts(PLANT)
    assert state(reckon(told, j2=facts)) is is_


def test_a_branch_is_not_called_for_until_its_outcome_is_told():
    replant = todo(PLANT, branch=1)
    assert state(reckon(todo(SPRAY), replant, branches=(CALLED_FOR,))) is State.NOT_CALLED_FOR
    failed = reckon(done(SPRAY, NOW - 60, outcome="failed"), replant, branches=(CALLED_FOR,))
    assert (state(failed), failed.branches[1]) == (State.OPEN, BranchState.OPEN)
    good = reckon(done(SPRAY, NOW - 60, outcome="good"), replant, branches=(CALLED_FOR,))
    assert (state(good), good.branches[1]) == (State.CALLED_OFF, BranchState.DEAD)


def test_a_job_is_not_called_late_while_it_is_asked_whether_it_was_done():
    asked = reckon(todo(SPRAY, deadline=NOW - DAY), done(PLANT, NOW - 60), arcs=(FOLLOWS,))
    assert (state(asked, SPRAY), kinds(asked, SPRAY)) == (State.HELD, {HoldKind.QUESTION})


def test_what_waits_behind_unknown_weather_is_not_late_either_but_what_waits_behind_a_closed_land_is():
    third = Arc(8, PLANT, 3, minimum=Fixed(0))
    nodes = (done(SPRAY, 2 * DAY), todo(PLANT, deadline=90 * DAY), todo(3, deadline=91 * DAY))
    assert state(reckon(*nodes, arcs=(WAITS_HEAT, third)), 3) is State.HELD
    assert state(reckon(*nodes, arcs=(WAITS_RAIN, third), curves={4: rain_on()}), 3) is State.HELD
    nowhere = (done(SPRAY, 2 * DAY), todo(PLANT, spans=(), deadline=90 * DAY), todo(3, deadline=91 * DAY))
    assert state(reckon(*nowhere, arcs=(FOLLOWS, third)), 3) is State.LAPSED
    assert state(reckon(todo(PLANT, spans=(), deadline=90 * DAY))) is State.LAPSED


def test_a_wait_that_a_look_has_confirmed_holds_nothing():
    seen = replace(WAITS_LOOK, confirmed_at=NOW - 30)
    assert state(reckon(done(SPRAY, 2 * DAY), todo(PLANT), arcs=(seen,), curves={3: warm_curve()})) is State.OPEN


def test_a_fixed_wait_that_a_look_confirms_is_never_over_by_itself():
    week = Arc(7, SPRAY, PLANT, minimum=Fixed(DAY), confirm=True)
    found = reckon(done(SPRAY, 5 * DAY), todo(PLANT), arcs=(week,))
    assert kinds(found, PLANT) == {HoldKind.LOOK}


def test_a_rain_clock_goes_on_after_its_rain():
    clock = replace(WAITS_RAIN, minimum=replace(WAITS_RAIN.minimum, then_minutes=5 * DAY))
    found = reckon(done(SPRAY, 5 * DAY), todo(PLANT), arcs=(clock,), curves={4: rain_on(7)})
    (hold,) = found.results[PLANT].holds
    assert (hold.kind, hold.clears.at) == (HoldKind.LAG, 13 * DAY)
    assert state(reckon(done(SPRAY, DAY), todo(PLANT), arcs=(clock,), curves={4: rain_on(3)})) is State.OPEN


def test_a_job_passed_over_hands_on_what_it_waited_for_and_one_that_satisfies_does_not():
    chain = (Arc(7, SPRAY, 3, minimum=Fixed(0)), Arc(8, 3, PLANT, minimum=Fixed(0)))
    over = todo(3, skipped=Skip.PASSED_OVER, skipped_at=NOW - 60)
    assert kinds(reckon(todo(SPRAY), over, todo(PLANT), arcs=chain), PLANT) == {HoldKind.PREDECESSOR}
    met = todo(3, skipped=Skip.SATISFIED, skipped_at=NOW - 60)
    assert kinds(reckon(todo(SPRAY), met, todo(PLANT), arcs=chain), PLANT) == set()


FACTS = [
    {"closures": (Closure("quiet", 5, NOW + 90, 12 * DAY, "hunters"),)},
    {"consents": (ConsentFact(3, "the owner", NOW + 90, 12 * DAY),)},
    {"consents": (ConsentFact(3, "the owner", 9 * DAY, NOW + 90),)},
    {"machines": (MachineNeed("planter", (MachineFact(4, NOW + 90, NOW + 300),)),)},
    {"skills": (SkillNeed("burn boss", ((NOW + 90, NOW + 200), (0, 9 * DAY))),)},
    {"sprayed": (SprayedBefore("atrazine", 2 * DAY, NOW + 90),)},
    {"trouble": Trouble(9, NOW - 60, "wet"), "trouble_clears": NOW + 90},
]


@pytest.mark.parametrize("facts", FACTS, ids=lambda facts: next(iter(facts)))
def test_the_walk_wakes_where_a_fact_begins_or_ends_and_not_before(facts):
    first = reckon(todo(PLANT), j2=JobFacts(PLANT, **facts))
    assert first.wake_at == NOW + 90
    before = reckon(todo(PLANT), now=first.wake_at - 1, j2=JobFacts(PLANT, **facts))
    assert (before.results, before.wake_at) == (first.results, first.wake_at)
    after = reckon(todo(PLANT), now=first.wake_at, j2=JobFacts(PLANT, **facts))
    assert state(after) is not state(first)


def test_what_is_settled_wakes_nobody_before_midnight():
    assert reckon(done(PLANT, NOW - 60)).wake_at == 11 * DAY


def test_machines_down_with_a_day_to_come_clear_by_the_clock_and_an_end_of_tenure_never():
    waiting = reckon(todo(PLANT), j2=JobFacts(PLANT, closures=(Closure("tenure", 0, 9 * DAY, FAR),)))
    assert [hold.clears.at for hold in waiting.results[PLANT].holds] == [None]
    machine = MachineNeed("planter", (MachineFact(4, None, state="down"), MachineFact(5, NOW + 60, state="on_loan")))
    (hold,) = reckon(todo(PLANT), j2=JobFacts(PLANT, machines=(machine,))).results[PLANT].holds
    assert (hold.clears.at, hold.inputs["machine"]) == (NOW + 60, 4)
