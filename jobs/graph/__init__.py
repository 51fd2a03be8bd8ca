"""The graph of jobs and the dates its links allow: pure computing on whole minutes since 1970-01-01 UTC.

Nothing in this package knows a database, a clock or a network. Definitions D1 to D14 stand in DEVELOPERS.md.
`schedule` turns a problem into dates; `data` has the words of both.
"""

from jobs.graph import batch, choices
from jobs.graph.data import Problem, Schedule

__all__ = ["MANY", "schedule"]

MANY = 1_000
"""Jobs from which on the batch reckons. Both take the same time at 300; at 1,000 the batch takes two thirds of the
time of the plain lists and at 10,000 half (measured); what is small stays where each line reads like its definition."""


def schedule(problem: Problem) -> Schedule:
    """The dates of every job and the state of every branch; see `choices.schedule` for what is promised."""
    reckon = batch.schedule if len(problem.nodes) >= MANY else choices.schedule
    return reckon(problem)
