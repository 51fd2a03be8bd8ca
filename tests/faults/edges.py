"""Fault 15: links written at the same moment that would close a circle together.

    python -m tests.faults.edges ROUNDS     (in a place; prints JSON)

Three runs of each shape: through the service with the database's own guard taken away (the lock alone must hold);
past the service with the guard in place (the guard alone must hold); and, as the control, past the service without the
guard: each writer looks at the stored links with a graph library, all wait until all have looked, and those who saw no
circle store theirs.
"""

import json
import sys
import time
from typing import Any

from tests.faults.ground import ENGINES, ground


def races(rounds: int) -> dict[str, Any]:
    """15: so many races of each shape (a pair, a ring of three, a ring closed by two links without a common job)."""
    begun = time.monotonic()
    by_lock = by_guard = control = count = 0
    for engine in ENGINES:
        with ground(engine) as place:
            said = place.run("-m", "tests.faults.edges", str(rounds), seconds=3600)
            told = json.loads(said.splitlines()[-1])
            by_lock, by_guard = by_lock + told["lock"], by_guard + told["guard"]
            control, count = control + told["neither"], count + told["races"]
    return {
        "fault": 15,
        "what": "links that close a circle together: pair, ring, disjoint ring",
        "count": count,
        "lost": by_lock,
        "doubled": by_guard,
        "control_failed": control,
        "control": f"without lock and guard: circles in {control} of {count} races",
        "seconds": round(time.monotonic() - begun, 1),
    }


FAULTS = {15: races}


def main(rounds: int) -> dict[str, int]:
    from core.models import Holding
    from jobs.models import Job
    from tests.jobs.services.test_links_at_once import SHAPES, by_hand, by_service, circles, without_guard

    holding, jobs = Holding.objects.get(), list(Job.objects.order_by("id")[:4])
    told = {"races": rounds * len(SHAPES), "lock": 0, "guard": 0, "neither": 0}
    for shape in SHAPES:
        with without_guard():
            told["lock"] += circles(shape, holding, jobs, by_service, rounds)
            told["neither"] += circles(shape, holding, jobs, by_hand, rounds)
        told["guard"] += circles(shape, holding, jobs, by_hand, rounds)
    return told


if __name__ == "__main__":
    import django

    django.setup()
    print(json.dumps(main(int(sys.argv[1]))))
