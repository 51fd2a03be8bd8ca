"""Many jobs at once: the dates of a whole holding from columns, with numpy, equal to those of `Part` in every field.

Copies whose maximal lags contradict, whose reasons run in a circle or that have what the columns do not tell (several
stretches of days, clocks started by rain, outcomes, nested branches) go to the plain lists, component by component.
"""

from __future__ import annotations

import numpy as np

from jobs.graph.batch import reasons
from jobs.graph.batch.answer import Answer, Asides, gather
from jobs.graph.batch.columns import Columns, columns_of
from jobs.graph.batch.copies import Instances, alternatives
from jobs.graph.batch.lags import Ints
from jobs.graph.batch.passes import Bools
from jobs.graph.batch.table import Table
from jobs.graph.choices import schedule as schedule_parts
from jobs.graph.data import BranchState, Problem, Schedule
from jobs.graph.network import Role

__all__ = ["Columns", "columns_of", "schedule", "schedule_columns"]


def schedule(problem: Problem) -> Schedule:
    """The same as `jobs.graph.choices.schedule`, for problems of thousands of jobs."""
    answer, states = _reckon(columns_of(problem))
    return Schedule(answer.all(), states)


def schedule_columns(columns: Columns) -> Schedule:
    """The dates of every job, made on asking, and the state of every branch.

    Raises CycleError if minimal lags run in a circle."""
    return Schedule(*_reckon(columns))


def _reckon(columns: Columns) -> tuple[Answer, dict[int, BranchState]]:
    table = Table(columns)
    choices = alternatives(table, columns.branches)
    here = Instances(table, choices)
    floors, ceilings = here.floors(table.floors), here.floors(table.ceilings)
    trailing = here.bounds(table.trailing)
    run = here.passes(floors, ceilings)
    es, off_early = run.earliest(table.today)
    ls, off_late = run.latest(table.today)
    under_way = np.flatnonzero(here.role == Role.UNDER_WAY)
    ls[under_way] = table.deadline[here.job[under_way]]
    np.minimum.at(ls, trailing.tail, trailing.tail_not_after(table.curves, ls[trailing.head]))
    *early, circles_early = reasons.of_earliest(here, run, floors, es)
    *late, circles_late = reasons.of_latest(here, run, ceilings, trailing, ls)
    found = gather(here, choices, es, ls, early, late)
    off = here.copies == 0
    off[here.components_of(np.concatenate([off_early, off_late, circles_early, circles_late]))] = True
    whole = _by_themselves(columns, table, choices.component, off)
    answer = Answer(found, table.arc, Asides(choices.conflicts, table.out_of_order), whole.dates)
    return answer, dict(sorted({**choices.states, **whole.branches}.items()))


def _by_themselves(columns: Columns, table: Table, component_of_branch: Ints, off: Bools) -> Schedule:
    """The components that are `off`, and the branches that have no jobs, by the plain lists."""
    off = np.append(off, True)
    jobs, arcs, branches = (
        np.flatnonzero(off[labels]) for labels in (table.component, table.component[table.head], component_of_branch)
    )
    if not len(jobs) and not len(branches):
        return Schedule({}, {})
    return schedule_parts(columns.part(jobs.tolist(), arcs.tolist(), branches.tolist()))
