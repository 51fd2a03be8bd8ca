"""Every fault the program has to survive, in its long form: what is killed, cut, filled or doubled, and what was lost.

Each comes from a table FAULTS of a module in tests/faults: {number: function of rounds -> what was counted}. `equal` is
whether nothing was lost, nothing doubled, and every control went wrong as it must; one without a control is no proof.
`--sizes 13 15` runs these alone.
"""

from __future__ import annotations

import importlib
import pkgutil
import time
import traceback
from collections.abc import Callable, Sequence
from typing import Any

from tests import faults
from tests.bench.timing import Say
from tests.faults.ground import Missing

Fault = Callable[[int], dict[str, Any]]

ROUNDS: dict[int, tuple[int, int]] = {
    1: (5, 200), 2: (8, 5000), 3: (1, 40), 4: (1, 20), 5: (1, 20), 6: (1, 200), 7: (3, 200), 8: (20, 500), 9: (1, 10),
    10: (1, 50), 11: (1, 200), 12: (1, 10), 13: (4, 300), 14: (2, 100), 15: (3, 300),
    16: (5, 200), 17: (16, 96), 18: (1, 20), 19: (1, 12), 20: (1, 5), 21: (2, 40), 22: (1, 50), 23: (1, 20),
    24: (8, 200),
}  # fmt: skip
"""By fault: rounds of the short form, which the tests run, and of the long form."""


def known() -> dict[int, Fault]:
    """Every fault by its number."""
    found: dict[int, Fault] = {}
    for module in pkgutil.iter_modules(faults.__path__, "tests.faults."):
        if ".test_" in module.name:
            continue
        for key, run in getattr(importlib.import_module(module.name), "FAULTS", {}).items():
            assert key not in found, f"fault {key} is listed twice"
            found[key] = run
    return dict(sorted(found.items()))


def controlled(told: dict[str, Any]) -> bool:
    """Whether the control went wrong: once at least, or, where it is asked in every round, in each."""
    if "control_missed" in told:
        return bool(told["rounds"]) and told["control_missed"] == told["rounds"]
    return bool(told.get("control_failed"))


def row(key: int, told: dict[str, Any], seconds: float) -> dict[str, Any]:
    """One line of the table; `good` is what decides: nothing lost, nothing doubled, and the control went wrong."""
    control = told.get("control_failed", told.get("control_missed"))
    good = told["lost"] == 0 and told["doubled"] == 0 and controlled(told)
    return {
        "fault": str(key),
        "good": good,
        "count": told.get("count", told.get("rounds")),
        "lost": told["lost"],
        "doubled": told["doubled"],
        "control": "missing" if control is None else int(control),
        "seconds": round(seconds, 1),
        "what": told.get("what", str(key)),
        "note": told.get("control", ""),
    }


def main(*, sizes: Sequence[int] | None, full: bool, say: Say) -> dict[str, Any]:
    rows, missing = [], []
    for key, run in known().items():
        if sizes and key not in sizes:
            continue
        begun = time.monotonic()
        try:
            told = run(ROUNDS[key][1])
        except Missing as absent:
            missing.append(f"Fault {key} was not run: {absent} is not on this machine.")
            continue
        except Exception:  # one fault that cannot be counted must not hide the others
            say(traceback.format_exc())
            told = {"count": 0, "lost": -1, "doubled": -1, "what": "the run broke, see above"}
        rows.append(row(key, told, time.monotonic() - begun))
        say(f"{rows[-1]}")
    for sentence in missing:
        say(sentence)
    return {"rows": rows, "ratios": {}, "equal": bool(rows) and not missing and all(one["good"] for one in rows)}
