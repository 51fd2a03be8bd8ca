"""`python -m tests.jobs.planner.agree [cases]`: the planner's best values beside those of the exhaustive search."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable

from jobs.planner.answer import Effort, Plan, Refused
from jobs.planner.problem import Level
from jobs.planner.solve import solve
from tests.jobs.planner.cases import small
from tests.jobs.planner.checker import faults
from tests.jobs.planner.exhaustive import Search

LEVELS = (Level.KEPT, Level.FIRST, Level.ERRANDS, Level.DRIVING)

COUNTS = (4, 4, 5)
"""Jobs of a problem; six and more take the exhaustive search minutes at times."""


def disagreements(seeds: Iterable[int], *, say: Callable[[str], object] = print) -> list[int]:
    """Seeds at which a plan has faults, no proof, or another value than the search found; each is told."""
    wrong = []
    for seed in seeds:
        case = small(seed, COUNTS)
        search, answer = Search(case), solve(case, Effort(work=5.0))
        if search.best is None:
            good = isinstance(answer, Refused)
        else:
            good = (
                isinstance(answer, Plan)
                and answer.proved
                and not faults(case, answer.items)
                and tuple(score.value for score in answer.scores if score.level in LEVELS) == search.best
            )
        if not good:
            wrong.append(seed)
            say(f"seed {seed}: the search found {search.best}, the planner {answer}")
    return wrong


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    found = disagreements(range(count))
    print(f"{count} problems, {len(found)} disagreements")
    sys.exit(1 if found else 0)
