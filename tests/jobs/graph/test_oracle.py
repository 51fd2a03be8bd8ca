"""The graph's dates against a second program that shares no code with it, on random problems."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings

from jobs.graph import schedule
from jobs.graph.data import FAR, NEG, Cause, Curve, DegreeDays, Fixed, Lag, Moment, Problem, Rain, Why
from tests.jobs.graph.oracle import Days, reckon
from tests.jobs.graph.random_problems import CURVES, DAY, SHAPE, Shape, generate, parts, problems

SAME = (
    "es", "ef", "ls", "lf", "slack", "critical", "last_chance", "look_by", "contradiction", "conflict", "out_of_order",
    "on_reference",
)  # fmt: skip


def plain_lag(lag: Lag | None) -> dict[str, object] | None:
    match lag:
        case Fixed(minutes):
            return {"kind": "fixed", "minutes": minutes}
        case DegreeDays(curve, amount):
            return {"kind": "degree_days", "curve": curve, "amount": amount}
        case Rain(curve, amount, then):
            return {"kind": "rain", "curve": curve, "amount": amount, "then": then}
    return None


def plain_moment(moment: Moment | None) -> tuple[int, int] | None:
    return None if moment is None else (moment.early, moment.late)


def plain_curve(curve: Curve) -> dict[str, object]:
    return {"starts": curve.day_starts, "values": curve.values, "sources": curve.sources}


PLAIN_CURVES = {number: plain_curve(curve) for number, curve in CURVES.items()}


def plain(problem: Problem) -> dict[str, object]:
    """The problem as the dicts that the oracle reads."""
    nodes = {
        n.id: {
            "id": n.id,
            "season": n.season,
            "duration": n.duration,
            "spans": n.spans,
            "deadline": n.deadline,
            "branch": n.branch,
            "started": plain_moment(n.started),
            "finished": plain_moment(n.finished),
            "rest": n.rest,
            "skipped": None if n.skipped is None else n.skipped.value,
            "skipped_at": n.skipped_at,
            "called_off": n.called_off,
            "outcome": n.outcome,
        }
        for n in problem.nodes
    }
    arcs = {
        a.id: {
            "tail": a.tail,
            "head": a.head,
            "relation": a.relation.value,
            "minimum": plain_lag(a.minimum),
            "maximum": plain_lag(a.maximum),
            "confirmed_at": a.confirmed_at,
        }
        for a in problem.arcs
    }
    branches = {
        b.id: {
            "season": b.season,
            "group": b.group,
            "order": b.order,
            "parent": b.parent,
            "opened_by": b.opened_by,
            "outcomes": b.outcomes,
            "expected": b.expected,
            "called_off": b.called_off,
        }
        for b in problem.branches
    }
    curves = PLAIN_CURVES if problem.curves is CURVES else {i: plain_curve(c) for i, c in problem.curves.items()}
    return {"today": problem.today, "nodes": nodes, "arcs": arcs, "branches": branches, "curves": curves}


def expected(problem: Problem, **broken: bool) -> dict[tuple[int, str], object]:
    """What the oracle says, by job and field, or branch."""
    answer = reckon(plain(problem), **broken)
    found = {(job, name): row[name] for job, row in answer["dates"].items() for name in SAME}
    return found | {(branch, "state"): state for branch, state in answer["branches"].items()}


def actual(problem: Problem) -> dict[tuple[int, str], object]:
    answer = schedule(problem)
    found = {(job, name): getattr(dates, name) for job, dates in answer.dates.items() for name in SAME}
    return found | {(branch, "state"): state.value for branch, state in answer.branches.items()}


def differences(problem: Problem, **broken: bool) -> dict[tuple[int, str], tuple[object, object]]:
    """Where graph and oracle part: {(job or branch, field): (graph, oracle)}."""
    wanted, found = expected(problem, **broken), actual(problem)
    assert found.keys() == wanted.keys()
    return {key: (found[key], wanted[key]) for key in wanted if found[key] != wanted[key]}


@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
@given(problems())
def test_small_random_problems_agree(problem: Problem) -> None:
    assert differences(problem) == {}


@pytest.mark.parametrize("block", range(10))
def test_seasons_of_full_size_agree(block: int) -> None:
    for seed in range(block * 30, block * 30 + 30):
        assert differences(generate(seed, 1)) == {}, f"seed {seed}"


@pytest.mark.parametrize(
    "shape",
    [
        replace(SHAPE, rain=0.15),
        replace(SHAPE, alternatives=1, outcomes=1, two_groups=0.5, two_outcomes=0.5),
        replace(SHAPE, alternatives=1, nested=1),
        replace(SHAPE, maximum=0.6, degree_days=0.4, done=0.1),
        replace(SHAPE, spans=1, deadlines=0.6, done=0.1),
    ],
    ids=["rain", "many branches", "nested branches", "many maximal lags", "many closures"],
)
def test_seasons_with_more_of_one_thing_agree(shape: Shape) -> None:
    for seed in range(60):
        assert differences(generate(40_000 + seed, 1, shape)) == {}, f"seed {40_000 + seed}"


@pytest.mark.parametrize("seed", range(20))
def test_whole_is_the_same_as_each_component_alone(seed: int) -> None:
    whole = generate(10_000 + seed, 12)
    together = schedule(whole)
    apart = [schedule(part) for part in parts(whole)]
    assert len(apart) > 8
    assert together.dates == {job: dates for part in apart for job, dates in part.dates.items()}
    assert together.branches == {branch: state for part in apart for branch, state in part.branches.items()}


def test_a_large_holding_agrees() -> None:
    whole = generate(50_000, 160)
    assert len(whole.nodes) > 2_000
    wanted = {key: value for part in parts(whole) for key, value in expected(part).items()}
    assert actual(whole) == wanted


def reasons(problem: Problem) -> Iterator[tuple[Why, list[object]]]:
    """Of each date that no fact set: why the graph says it is so, and the arcs that give this very date."""
    rows = reckon(plain(problem))["dates"]
    facts = {node.id for node in problem.nodes if node.started or node.finished or node.skipped}
    for job, dates in schedule(problem).dates.items():
        early, late = rows[job]["early_arcs"], rows[job]["late_arcs"]
        for why, instant, arcs in ((dates.why_es, dates.es, early), (dates.why_ls, dates.ls, late)):
            if job not in facts and NEG < instant < FAR and all(isinstance(arc, int) for arc in arcs):
                yield why, arcs


def test_reason_of_a_date_is_the_lowest_arc_that_gives_that_very_date() -> None:
    named = 0
    for seed in range(100):
        for why, arcs in reasons(generate(30_000 + seed, 1, replace(SHAPE, maximum=0))):
            assert why.arc == min(arcs, default=None), f"seed {30_000 + seed}"
            assert (why.cause is Cause.ARC) == bool(arcs)
            named += bool(arcs)
    assert named > 200


def test_reasons_never_go_round_in_a_circle() -> None:
    """With maximal lags two jobs may give each other the same date; one of them then names what lies outside."""
    for seed in range(100):
        problem = generate(30_000 + seed, 1, replace(SHAPE, maximum=0.6))
        assert all(why.arc is None or why.arc in arcs for why, arcs in reasons(problem)), f"seed {30_000 + seed}"
        ends = {arc.id: {arc.tail, arc.head} for arc in problem.arcs}
        dates = schedule(problem).dates
        for job in dates:
            for side in ("why_es", "why_ls"):
                at, seen = job, set()
                while (arc := getattr(dates[at], side).arc) is not None:
                    assert at not in seen, f"seed {30_000 + seed}, job {job}"
                    seen.add(at)
                    at = next(iter(ends[arc] - {at}))


def test_order_of_rows_changes_nothing() -> None:
    for seed in range(20):
        problem = generate(20_000 + seed, 3)
        turned = replace(problem, nodes=problem.nodes[::-1], arcs=problem.arcs[::-1], branches=problem.branches[::-1])
        assert schedule(problem) == schedule(turned)


def test_comparison_can_fail() -> None:
    """An oracle that ignores maximal lags disagrees with the graph in many seasons, in each of these fields."""
    seen = Counter(field for seed in range(60) for _, field in differences(generate(seed, 1), ignore_maximum=True))
    assert all(seen[field] for field in ("es", "ef", "ls", "lf", "slack", "critical", "last_chance", "contradiction"))


def test_random_problems_hold_what_they_are_said_to_hold() -> None:
    """The comparison is worth something only if all of this comes up in it."""
    seen: Counter[str] = Counter()
    rare = replace(SHAPE, alternatives=1)
    for problem in [generate(seed, 1) for seed in range(300)] + [generate(40_000 + k, 1, rare) for k in range(200)]:
        answer = reckon(plain(problem))
        seen["eased"] += bool(answer["eased"])
        seen.update(answer["branches"].values())
        for row in answer["dates"].values():
            seen["contradiction"] += row["contradiction"]
            seen["off the reference"] += not row["on_reference"]
            seen["conflict"] += row["conflict"]
            seen["critical"] += row["critical"]
            seen["out of order"] += bool(row["out_of_order"])
            seen["look by"] += row["look_by"] is not None
            seen["more chance in another copy"] += row["last_chance"] > row["ls"]
            seen["too late"] += NEG < row["slack"] < 0
            seen["unknown"] += row["es"] == FAR
            seen["no deadline"] += row["ls"] == FAR
            seen["dated both ways"] += row["es"] < FAR and NEG < row["ls"] < FAR
        for node in problem.nodes:
            seen["done"] += node.finished is not None
            seen["under way"] += node.started is not None and node.finished is None
            seen["partly done"] += node.rest is not None
            seen["skipped"] += node.skipped is not None
            seen["called off"] += node.called_off
            seen["several spans"] += len(node.spans) > 1
        for arc in problem.arcs:
            seen["maximum"] += arc.maximum is not None
            seen["degree days"] += isinstance(arc.minimum, DegreeDays)
            seen["degree days at most"] += isinstance(arc.maximum, DegreeDays)
            seen["lead"] += isinstance(arc.minimum, Fixed) and arc.minimum.minutes < 0
            seen["confirmed"] += arc.confirmed_at is not None
    wanted = (
        "contradiction", "eased", "off the reference", "conflict", "critical", "out of order", "look by",
        "more chance in another copy", "too late",
        "unknown", "no deadline", "dated both ways", "done", "under way", "partly done", "skipped", "called off",
        "several spans", "maximum", "degree days", "degree days at most", "lead", "confirmed", "open", "chosen",
        "paused", "dead", "not_called_for",
    )  # fmt: skip
    assert {name for name in wanted if not seen[name]} == set()


@pytest.mark.parametrize("seed", range(20))
def test_days_walked_one_by_one_give_the_curve_s_lags(seed: int) -> None:
    rng = Random(seed)
    curve = CURVES[rng.choice((1, 2, 3))]
    days = Days(curve.day_starts, curve.values, curve.sources)
    for _ in range(40):
        at = rng.randrange(curve.day_starts[0] - 2 * DAY, curve.day_starts[-1] + 2 * DAY)
        amount = rng.choice((1, rng.randint(1, 5_000), rng.randint(1, 400_000)))
        assert (days.f(at, amount), days.g(at, amount), days.h(at, amount), days.h_back(at, amount)) == (
            curve.reach(at, amount),
            curve.latest_anchor(at, amount),
            curve.hold(at, amount),
            curve.earliest_anchor(at, amount),
        )
