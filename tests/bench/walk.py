"""Bench of the walk: dates of whole holdings beside networkx and graphlib, then one report, one edge and one holding
through the database. Every comparison is of equal results.

Set A is what those libraries can say, minimal lags only; set B is the real mix, held against the slow oracle. Whole
holdings are timed by this process's own seconds, so that a busy machine does not count.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import replace
from graphlib import TopologicalSorter
from random import Random
from typing import Any

import networkx
import numpy as np

from jobs.graph.batch import Columns, schedule_columns
from jobs.graph.batch.columns import ARC_COLUMNS, FEW, JOB_COLUMNS
from jobs.graph.batch.lags import Curves
from jobs.graph.choices import schedule as schedule_parts
from jobs.graph.data import FAR
from tests.bench import holdings
from tests.bench.timing import Say, row, timed
from tests.bench.walk_stored import stored
from tests.jobs.graph.oracle import reckon
from tests.jobs.graph.test_oracle import SAME, plain

SIZES = [1_000, 10_000, 100_000]
FULL = 1_000_000
SAMPLED = 200

Dates = dict[int, tuple[int, int]]


def main(*, sizes: list[int] | None = None, full: bool = False, say: Say = print) -> dict[str, Any]:
    """Rows of milliseconds, their ratios, and whether everything that was compared was equal."""
    sizes = sizes or [*SIZES, *([FULL] if full else [])]
    rows: list[dict[str, Any]] = []
    ratios: dict[str, float] = {}
    equal = True
    for size in sizes:
        equal &= _graph(size, rows, ratios, say)
    equal &= stored(sizes, rows, ratios, say)
    return {"rows": rows, "ratios": ratios, "equal": equal}


def _graph(size: int, rows: list[dict[str, Any]], ratios: dict[str, float], say: Say) -> bool:
    ours_a, ours_b = holdings.make(size, size, real=False), holdings.make(size, size + 1, real=True)
    ready_b = arrays(ours_b)
    graph = to_networkx(ours_a)
    times: dict[str, float] = {}
    repeats = max(1, min(5, 200_000 // size))
    answers: dict[str, Any] = {}
    for _ in range(repeats):
        # In turns, so that a busy machine slows all of them alike.
        for name, run in {
            "networkx, set A, graph built": lambda: passes_networkx(graph),
            "networkx, set A, from lists": lambda: passes_networkx(to_networkx(ours_a)),
            "graphlib, set A, from lists": lambda: passes_graphlib(ours_a),
            "ours, set A, from lists": lambda: schedule_columns(ours_a),
            "ours, set B, from lists": lambda: schedule_columns(ours_b),
            "ours, set B, arrays ready": lambda: schedule_columns(ready_b),
        }.items():
            taken, answers[name] = timed(run, time.process_time)
            times[name] = min(taken, times.get(name, taken))
    if size <= 10_000:
        problem = holdings.problem_of(ours_b)
        times["ours, set B, plain lists"] = timed(lambda: schedule_parts(problem), time.process_time)[0]
    wanted = answers["networkx, set A, from lists"]
    ours = {job: (dates.es, dates.ls) for job, dates in answers["ours, set A, from lists"].dates.items()}
    equal = wanted == answers["graphlib, set A, from lists"] == answers["networkx, set A, graph built"] == ours
    if not equal:
        say(f"Set A of {size} jobs: the dates differ.")
    sampled, agreed = against_oracle(ours_b, answers["ours, set B, from lists"].dates, say)
    proof = f"{sampled} components as the oracle" if agreed else "not as the oracle"
    base = times["networkx, set A, graph built"]
    for name, taken in times.items():
        rows.append(row(size, name, taken, taken / base, proof if "set B" in name else "equal dates"))
    ratios[f"B from lists / networkx on A, {size}"] = round(times["ours, set B, from lists"] / base, 3)
    ratios[f"B arrays ready / networkx on A, {size}"] = round(times["ours, set B, arrays ready"] / base, 3)
    whole = times["networkx, set A, from lists"]
    ratios[f"B from lists / networkx on A from lists, {size}"] = round(times["ours, set B, from lists"] / whole, 3)
    return equal and agreed


def arrays(columns: Columns) -> Columns:
    """The same columns with arrays in the place of lists, the curves laid end to end."""
    names = (*JOB_COLUMNS, *ARC_COLUMNS, *FEW)
    ready = {name: np.array(getattr(columns, name), np.int64) for name in names}
    return replace(columns, curves=Curves(columns.curves), **ready)


def to_networkx(columns: Columns) -> networkx.DiGraph:
    graph = networkx.DiGraph()
    for job, duration, deadline in zip(columns.job, columns.duration, columns.deadline, strict=True):
        graph.add_node(job, duration=duration, deadline=deadline)
    for tail, head, lag in zip(columns.tail, columns.head, columns.minimum_amount, strict=True):
        graph.add_edge(tail, head, lag=lag)
    return graph


def passes_networkx(graph: networkx.DiGraph) -> Dates:
    """Order, forward, backward and ready jobs of set A."""
    order = list(networkx.topological_sort(graph))
    nodes, pred, succ = graph.nodes, graph.pred, graph.succ
    early: dict[int, int] = {}
    for job in order:
        bounds = [early[tail] + nodes[tail]["duration"] + edge["lag"] for tail, edge in pred[job].items()]
        early[job] = max(bounds, default=holdings.TODAY)
    late: dict[int, int] = {}
    for job in reversed(order):
        node = nodes[job]
        bounds = [late[head] - edge["lag"] for head, edge in succ[job].items() if late[head] < FAR]
        latest = min([node["deadline"], *bounds])
        late[job] = latest - node["duration"] if latest < FAR else FAR
    ready = [job for job in order if not pred[job]]
    assert ready
    return {job: (early[job], late[job]) for job in order}


def passes_graphlib(columns: Columns) -> Dates:
    """The same with the standard library and dicts."""
    duration = dict(zip(columns.job, columns.duration, strict=True))
    deadline = dict(zip(columns.job, columns.deadline, strict=True))
    into: dict[int, list[tuple[int, int]]] = {job: [] for job in columns.job}
    out: dict[int, list[tuple[int, int]]] = {job: [] for job in columns.job}
    for tail, head, lag in zip(columns.tail, columns.head, columns.minimum_amount, strict=True):
        into[head].append((tail, lag))
        out[tail].append((head, lag))
    sorter = TopologicalSorter({job: [tail for tail, _ in links] for job, links in into.items()})
    order = list(sorter.static_order())
    early: dict[int, int] = {}
    for job in order:
        early[job] = max((early[tail] + duration[tail] + lag for tail, lag in into[job]), default=holdings.TODAY)
    late: dict[int, int] = {}
    for job in reversed(order):
        latest = min([deadline[job], *(late[head] - lag for head, lag in out[job] if late[head] < FAR)])
        late[job] = latest - duration[job] if latest < FAR else FAR
    ready = [job for job in order if not into[job]]
    assert ready
    return {job: (early[job], late[job]) for job in order}


def against_oracle(columns: Columns, dates: Mapping[int, Any], say: Say) -> tuple[int, bool]:
    """(components held against the oracle, whether every field of every job was the oracle's)."""
    labels = sorted(set(columns.component))
    chosen = set(Random(len(labels)).sample(labels, min(SAMPLED, max(1, len(labels) // 2))))
    whole = holdings.problem_of(columns, chosen)
    parts: dict[int, tuple[list[Any], list[Any], list[Any]]] = {label: ([], [], []) for label in chosen}
    season = {node.id: node.season for node in whole.nodes}
    for node in whole.nodes:
        parts[node.season][0].append(node)
    for arc in whole.arcs:
        parts[season[arc.head]][1].append(arc)
    for branch in whole.branches:
        parts[branch.season][2].append(branch)
    for nodes, arcs, branches in parts.values():
        part = replace(whole, nodes=tuple(nodes), arcs=tuple(arcs), branches=tuple(branches))
        for job, told in reckon(plain(part))["dates"].items():
            wanted = {name: told[name] for name in SAME}
            found = {name: getattr(dates[job], name) for name in SAME}
            if found != wanted:
                say(f"Job {job}: {found} where the oracle says {wanted}.")
                return len(parts), False
    return len(parts), True
