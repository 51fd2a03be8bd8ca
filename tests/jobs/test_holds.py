"""Every kind of hold: what makes it, and what clears it and nothing else (D15, D16)."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest

from jobs.facts import (
    Bound,
    Closure,
    ConsentFact,
    Facts,
    JobFacts,
    MachineFact,
    MachineNeed,
    MaterialNeed,
    SkillNeed,
    SprayedBefore,
)
from jobs.folding import Trouble
from jobs.graph.data import FAR, Arc, Branch, Curve, DegreeDays, Fixed, Moment, Node, Problem, Rain, Relation
from jobs.holds import Clearing, Hold, HoldKind
from jobs.sentences import Names, sentence
from jobs.walk import State, Walk, walk
from tests.jobs.law import cases as law

DAY = 1440
NOW = 10 * DAY + 600
TODAY = 10 * DAY
SPRAY, PLANT = 1, 2


def reckon(
    *nodes: Node, arcs: tuple[Arc, ...] = (), branches: tuple[Branch, ...] = (), curves=None, now=NOW, **facts: JobFacts
) -> Walk:
    """A walk over nodes; `j1=JobFacts(...)` gives the facts of job 1."""
    jobs = {node.id: replace(facts.get(f"j{node.id}", JobFacts(node.id)), id=node.id) for node in nodes}
    problem = Problem(now // DAY * DAY, nodes, arcs, branches, curves or {})
    return walk(Facts(problem, jobs, (now // DAY + 1) * DAY, {arc.id: "printed-table" for arc in arcs}), now)


def done(job: int, at: int, **more) -> Node:
    return Node(job, 1, 60, finished=Moment.at(at), **more)


def begun(job: int, at: int, **more) -> Node:
    return Node(job, 1, more.pop("duration", 60), started=Moment.at(at), **more)


def todo(job: int, **more) -> Node:
    return Node(job, 1, 60, **more)


def warm_curve(per_day: int = 1000, days: int = 40, source: str = "observed") -> Curve:
    return Curve([k * DAY for k in range(days + 1)], [per_day] * days, [source] * days)


def rain_on(*wet: int, days: int = 11) -> Curve:
    values = [120 if k in wet else 0 for k in range(days)]
    return Curve([k * DAY for k in range(days + 1)], values, ["observed"] * days)


@dataclass(frozen=True)
class Case:
    """`held` and `free` reckon job `job` before and after the clearing fact."""

    kind: HoldKind
    held: Callable[[], Walk]
    free: Callable[[], Walk]
    how: Clearing
    job: int = PLANT


FOLLOWS = Arc(7, SPRAY, PLANT, minimum=Fixed(0))
WAITS_WEEK = Arc(7, SPRAY, PLANT, minimum=Fixed(7 * DAY))
WAITS_HEAT = Arc(7, SPRAY, PLANT, minimum=DegreeDays(3, 5000))
WAITS_LOOK = Arc(7, SPRAY, PLANT, minimum=DegreeDays(3, 5000), confirm=True)
WAITS_RAIN = Arc(7, SPRAY, PLANT, minimum=Rain(4, 100, 0))
SOON_AFTER = Arc(7, SPRAY, PLANT, minimum=Fixed(0), maximum=Fixed(14 * DAY))
ENDS_AFTER = Arc(7, SPRAY, PLANT, Relation.FINISH_FINISH, minimum=Fixed(30))
ENDS_AFTER_START = Arc(7, SPRAY, PLANT, Relation.START_FINISH, minimum=Fixed(200))
EITHER = (Branch(1, 1, "residue", 1), Branch(2, 1, "residue", 2))


def planting(**facts) -> Walk:
    return reckon(todo(PLANT), j2=JobFacts(PLANT, **facts))


def closed(kind: str) -> Case:
    closure = Closure(kind, 5, 9 * DAY, 12 * DAY, "hunters on the land")
    spans = ((0, 9 * DAY), (12 * DAY, 90 * DAY))
    later = 12 * DAY + 60
    return Case(
        HoldKind(kind),
        lambda: reckon(todo(PLANT, spans=spans), j2=JobFacts(PLANT, closures=(closure,))),
        lambda: reckon(todo(PLANT, spans=spans), now=later, j2=JobFacts(PLANT, closures=(closure,))),
        Clearing.AT,
    )


CASES = [
    Case(
        HoldKind.PREDECESSOR,
        lambda: reckon(todo(SPRAY), todo(PLANT), arcs=(FOLLOWS,)),
        lambda: reckon(done(SPRAY, NOW - 60), todo(PLANT), arcs=(FOLLOWS,)),
        Clearing.REPORT,
    ),
    Case(
        HoldKind.LAG,
        lambda: reckon(done(SPRAY, 9 * DAY), todo(PLANT), arcs=(WAITS_WEEK,)),
        lambda: reckon(done(SPRAY, 9 * DAY), todo(PLANT), arcs=(WAITS_WEEK,), now=16 * DAY),
        Clearing.AT,
    ),
    Case(
        HoldKind.PREDECESSOR,
        lambda: reckon(todo(SPRAY), todo(PLANT), arcs=(ENDS_AFTER,)),
        lambda: reckon(begun(SPRAY, NOW - 30), todo(PLANT), arcs=(ENDS_AFTER,)),
        Clearing.REPORT,
    ),
    Case(
        HoldKind.LAG,
        lambda: reckon(begun(SPRAY, NOW - 20), todo(PLANT), arcs=(ENDS_AFTER,)),
        lambda: reckon(begun(SPRAY, NOW - 20), todo(PLANT), arcs=(ENDS_AFTER,), now=NOW + 10),
        Clearing.AT,
    ),
    Case(
        HoldKind.PREDECESSOR,
        lambda: reckon(todo(SPRAY), todo(PLANT), arcs=(ENDS_AFTER_START,)),
        lambda: reckon(begun(SPRAY, NOW - 140), todo(PLANT), arcs=(ENDS_AFTER_START,)),
        Clearing.REPORT,
    ),
    Case(
        HoldKind.LAG,
        lambda: reckon(begun(SPRAY, NOW - 139), todo(PLANT), arcs=(ENDS_AFTER_START,)),
        lambda: reckon(begun(SPRAY, NOW - 139), todo(PLANT), arcs=(ENDS_AFTER_START,), now=NOW + 1),
        Clearing.AT,
    ),
    Case(
        HoldKind.LOOK,
        lambda: reckon(done(SPRAY, 2 * DAY), todo(PLANT), arcs=(WAITS_LOOK,), curves={3: warm_curve()}),
        lambda: reckon(
            done(SPRAY, 2 * DAY),
            todo(PLANT),
            arcs=(replace(WAITS_LOOK, confirmed_at=NOW - 30),),
            curves={3: warm_curve()},
        ),
        Clearing.REPORT,
    ),
    Case(
        HoldKind.RAIN,
        lambda: reckon(done(SPRAY, 5 * DAY), todo(PLANT), arcs=(WAITS_RAIN,), curves={4: rain_on()}),
        lambda: reckon(done(SPRAY, 5 * DAY), todo(PLANT), arcs=(WAITS_RAIN,), curves={4: rain_on(8)}),
        Clearing.REPORT,
    ),
    Case(
        HoldKind.UNKNOWN,
        lambda: reckon(done(SPRAY, 2 * DAY), todo(PLANT), arcs=(WAITS_HEAT,)),
        lambda: reckon(done(SPRAY, 2 * DAY), todo(PLANT), arcs=(WAITS_HEAT,), curves={3: warm_curve()}),
        Clearing.REPORT,
    ),
    Case(
        HoldKind.SEASON,
        lambda: reckon(todo(PLANT, spans=((20 * DAY, 40 * DAY),)), j2=JobFacts(PLANT, first=20 * DAY, last=40 * DAY)),
        lambda: reckon(
            todo(PLANT, spans=((20 * DAY, 40 * DAY),)), now=20 * DAY, j2=JobFacts(PLANT, first=20 * DAY, last=40 * DAY)
        ),
        Clearing.AT,
    ),
    closed("contract"),
    closed("quiet"),
    closed("ban"),
    Case(
        HoldKind.TENURE,
        lambda: planting(closures=(Closure("tenure", 0, 9 * DAY, FAR),)),
        lambda: planting(closures=()),
        Clearing.NEVER,
    ),
    Case(
        HoldKind.NO_FIT,
        lambda: reckon(
            Node(PLANT, 1, 600, spans=((0, NOW + 120), (12 * DAY, 40 * DAY))),
            j2=JobFacts(PLANT, first=0, last=40 * DAY),
        ),
        lambda: reckon(
            Node(PLANT, 1, 60, spans=((0, NOW + 120), (12 * DAY, 40 * DAY))), j2=JobFacts(PLANT, first=0, last=40 * DAY)
        ),
        Clearing.AT,
    ),
    Case(
        HoldKind.TOO_EARLY,
        lambda: reckon(todo(SPRAY), todo(PLANT, spans=((40 * DAY, 60 * DAY),)), arcs=(SOON_AFTER,)),
        lambda: reckon(todo(SPRAY), todo(PLANT, spans=((40 * DAY, 60 * DAY),)), arcs=(SOON_AFTER,), now=26 * DAY),
        Clearing.AT,
        job=SPRAY,
    ),
    Case(
        HoldKind.QUESTION,
        lambda: reckon(todo(SPRAY), done(PLANT, NOW - 60), arcs=(FOLLOWS,)),
        lambda: reckon(todo(SPRAY, still_to_do=True), done(PLANT, NOW - 60), arcs=(FOLLOWS,)),
        Clearing.REPORT,
        job=SPRAY,
    ),
    Case(
        HoldKind.TROUBLE,
        lambda: planting(trouble=Trouble(9, NOW - 60, "access")),
        lambda: planting(),
        Clearing.REPORT,
    ),
    Case(
        HoldKind.MACHINE,
        lambda: planting(machines=(MachineNeed("planter", (MachineFact(4, None, state="down"),)),)),
        lambda: planting(machines=(MachineNeed("planter", (MachineFact(4, 0),)),)),
        Clearing.REPORT,
    ),
    Case(
        HoldKind.MATERIAL,
        lambda: planting(materials=(MaterialNeed(6, 12.0, 5.0),)),
        lambda: planting(materials=(MaterialNeed(6, 12.0, 12.0),)),
        Clearing.REPORT,
    ),
    Case(
        HoldKind.SPRAYED,
        lambda: planting(sprayed=(SprayedBefore("atrazine", 2 * DAY, None),)),
        lambda: planting(sprayed=(SprayedBefore("atrazine", 2 * DAY, None),), overridden=frozenset({"sprayed"})),
        Clearing.DECISION,
    ),
    Case(
        HoldKind.SKILL,
        lambda: planting(skills=(SkillNeed("burn boss", ((0, 9 * DAY),)),)),
        lambda: planting(skills=(SkillNeed("burn boss", ((0, 9 * DAY), (9 * DAY, None))),)),
        Clearing.DECISION,
    ),
    Case(
        HoldKind.CONSENT,
        lambda: planting(consents=(ConsentFact(3, "the owner", None, None),)),
        lambda: planting(consents=(ConsentFact(3, "the owner", NOW - 60, None),)),
        Clearing.DECISION,
    ),
    Case(
        HoldKind.PAUSED,
        lambda: reckon(
            Node(SPRAY, 1, 60, branch=1, started=Moment.at(NOW - 30)), todo(PLANT, branch=2), branches=EITHER
        ),
        lambda: reckon(todo(SPRAY, branch=1), todo(PLANT, branch=2), branches=EITHER),
        Clearing.REPORT,
    ),
    Case(
        HoldKind.CONTRADICTION,
        lambda: reckon(
            todo(SPRAY),
            todo(PLANT),
            arcs=(Arc(7, SPRAY, PLANT, minimum=DegreeDays(3, 9000), maximum=Fixed(2 * DAY)),),
            curves={3: warm_curve(days=60, source="normal")},
        ),
        lambda: reckon(
            todo(SPRAY),
            todo(PLANT),
            arcs=(Arc(7, SPRAY, PLANT, minimum=DegreeDays(3, 1000), maximum=Fixed(9 * DAY)),),
            curves={3: warm_curve(days=60, source="normal")},
        ),
        Clearing.DECISION,
    ),
    Case(
        HoldKind.STAND,
        lambda: planting(bounds=(Bound("stand", "flood:4", NOW - 60, report="stand", job=SPRAY),)),
        lambda: planting(),
        Clearing.REPORT,
    ),
]


def kinds(found: Walk, job: int) -> set[HoldKind]:
    return {hold.kind for hold in found.results[job].holds}


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.kind.value)
def test_a_hold_is_made_and_cleared(case: Case):
    held, free = case.held(), case.free()
    hold = next(hold for hold in held.results[case.job].holds if hold.kind is case.kind)
    assert hold.clears.how is case.how
    assert kinds(free, case.job) == kinds(held, case.job) - {case.kind}


CASES += [
    Case(
        case.kind,
        lambda case=case: reckon(todo(PLANT), now=case.now, j2=JobFacts(PLANT, bounds=case.held)),
        lambda case=case: reckon(todo(PLANT), now=case.later, j2=JobFacts(PLANT, bounds=case.free)),
        case.how,
    )
    for case in law.CASES
]


def test_every_kind_has_its_case():
    assert {case.kind for case in CASES} == set(HoldKind)


def test_a_job_is_open_exactly_where_nothing_holds_it():
    assert planting().results[PLANT].state is State.OPEN
    held = planting(materials=(MaterialNeed(6, 12.0, 5.0),))
    assert held.results[PLANT].state is State.HELD


def test_a_predicted_day_opens_nothing():
    heat = reckon(done(SPRAY, 2 * DAY), todo(PLANT), arcs=(WAITS_LOOK,), curves={3: warm_curve()})
    assert heat.results[PLANT].dates.es <= NOW
    assert heat.results[PLANT].state is State.HELD


def test_stock_that_was_never_counted_holds_nothing():
    assert planting(materials=(MaterialNeed(6, 12.0, None),)).results[PLANT].state is State.OPEN


def test_either_way_is_told_as_one_hold():
    ways = reckon(
        todo(SPRAY, branch=1),
        todo(3, branch=2),
        todo(PLANT),
        arcs=(Arc(7, SPRAY, PLANT, minimum=Fixed(0)), Arc(8, 3, PLANT, minimum=Fixed(0))),
        branches=EITHER,
    )
    holds = ways.results[PLANT].holds
    assert [(hold.kind, hold.inputs["or"]) for hold in holds] == [(HoldKind.PREDECESSOR, [3])]


def test_a_written_reason_sets_aside_only_what_may_be_set_aside():
    everything = frozenset(kind.value for kind in HoldKind)
    stopped = reckon(
        todo(SPRAY),
        todo(PLANT),
        arcs=(FOLLOWS,),
        j2=JobFacts(PLANT, trouble=Trouble(9, NOW, "wind"), overridden=everything),
    )
    assert kinds(stopped, PLANT) == {HoldKind.PREDECESSOR}


def test_a_fixed_lag_names_its_source_and_its_end():
    held = reckon(done(SPRAY, 9 * DAY), todo(PLANT), arcs=(WAITS_WEEK,))
    (hold,) = held.results[PLANT].holds
    assert (hold.source, hold.rule, hold.clears.at) == ("printed-table", "prerequisite:7", 16 * DAY)


def test_where_a_finish_is_bound_a_job_waits_for_the_start_before_it_and_then_for_the_dates_alone():
    waiting = reckon(todo(SPRAY), todo(PLANT), arcs=(ENDS_AFTER,)).results[PLANT]
    assert [(hold.kind, hold.clears.report) for hold in waiting.holds] == [(HoldKind.PREDECESSOR, "start")]
    # 60 minutes of spraying from NOW - 20 on, 30 more, and 60 of planting: planting may begin at NOW + 10.
    under_way = reckon(begun(SPRAY, NOW - 20), todo(PLANT), arcs=(ENDS_AFTER,))
    (hold,) = under_way.results[PLANT].holds
    assert (hold.clears.at, hold.clears.predicted, under_way.results[PLANT].dates.es) == (NOW + 10, True, NOW + 10)
    assert under_way.wake_at == NOW + 10
    told = sentence(hold, Names("UTC", 1970, {SPRAY: "Spray", PLANT: "Plant"}))
    assert told == "Waits until Sun 11 Jan 10:10: Spray is under way, expected to end by Sun 11 Jan 10:40."
    over = reckon(done(SPRAY, NOW - 20), todo(PLANT), arcs=(replace(ENDS_AFTER, minimum=Fixed(90)),))
    assert [(hold.clears.at, hold.clears.predicted) for hold in over.results[PLANT].holds] == [(NOW + 10, False)]


def test_work_that_takes_longer_than_thought_holds_what_ends_after_it_no_longer_than_the_dates_do():
    long_ago = reckon(begun(SPRAY, NOW - 3 * DAY), todo(PLANT), arcs=(ENDS_AFTER,)).results[PLANT]
    assert (long_ago.state, long_ago.dates.es) == (State.OPEN, TODAY)


def test_degree_days_after_work_under_way_are_reckoned_from_its_end_to_come():
    heat = replace(WAITS_HEAT, relation=Relation.FINISH_FINISH)
    found = reckon(begun(SPRAY, NOW, duration=2 * DAY), todo(PLANT), arcs=(heat,), curves={3: warm_curve()})
    (hold,) = found.results[PLANT].holds
    assert (hold.kind, hold.clears.at, hold.inputs["counted"]) == (HoldKind.LAG, found.results[PLANT].dates.es, None)


def test_nothing_changes_before_the_instant_to_look_again():
    first = reckon(done(SPRAY, 9 * DAY + 700), todo(PLANT), arcs=(Arc(7, SPRAY, PLANT, minimum=Fixed(1400)),))
    assert first.wake_at == 10 * DAY + 660
    before = reckon(
        done(SPRAY, 9 * DAY + 700),
        todo(PLANT),
        arcs=(Arc(7, SPRAY, PLANT, minimum=Fixed(1400)),),
        now=first.wake_at - 1,
    )
    after = reckon(
        done(SPRAY, 9 * DAY + 700), todo(PLANT), arcs=(Arc(7, SPRAY, PLANT, minimum=Fixed(1400)),), now=first.wake_at
    )
    assert before.results == first.results
    assert after.results[PLANT].state is State.OPEN


def test_a_job_whose_latest_start_passed_is_too_late_and_says_what_broke():
    late = reckon(todo(PLANT, deadline=NOW))
    assert late.results[PLANT].state is State.LAPSED
    assert late.results[PLANT].finding is not None


def test_unknown_weather_holds_and_is_not_called_too_late():
    found = reckon(done(SPRAY, 2 * DAY), todo(PLANT, deadline=90 * DAY), arcs=(WAITS_HEAT,))
    assert found.results[PLANT].state is State.HELD
    passed = reckon(done(SPRAY, 2 * DAY), todo(PLANT, deadline=NOW), arcs=(WAITS_HEAT,))
    assert passed.results[PLANT].state is State.LAPSED


def holds_of(found: Walk) -> list[Hold]:
    return [hold for result in found.results.values() for hold in result.holds]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.kind.value)
def test_an_earliest_start_ahead_is_explained(case: Case):
    for found, now in ((case.held(), NOW), (case.free(), NOW)):
        for result in found.results.values():
            if result.state in (State.HELD, State.OPEN) and result.dates.es > max(now, found.wake_at):
                assert any(
                    hold.clears.how is not Clearing.AT or (hold.clears.at or 0) >= result.dates.es
                    for hold in result.holds
                )
