"""Every fault the program has to survive, in its long form: what is killed, cut, filled or doubled, and what was lost.

Each comes from a table FAULTS of a module in tests/faults: {number: function of rounds -> what was counted}. `equal` is
whether nothing was lost, nothing was doubled, and every control went wrong as it must. `--sizes 13 15` runs these alone.
"""

from __future__ import annotations

import importlib
import pkgutil
import traceback
from collections.abc import Callable, Sequence
from typing import Any

from tests import faults
from tests.bench.timing import Say
from tests.faults.ground import Missing

Fault = Callable[[int], dict[str, Any]]

ROUNDS: dict[int, tuple[int, int]] = {
    1: (5, 200), 2: (5, 250), 3: (2, 40), 4: (1, 20), 5: (2, 20), 6: (2, 200), 7: (5, 200), 8: (20, 500), 9: (1, 10),
    10: (2, 50), 11: (2, 200), 12: (1, 10), 13: (5, 300), 14: (2, 100), 15: (4, 300), 21: (2, 40), 22: (1, 50),
}  # fmt: skip
"""By fault: rounds of the short form, which the tests run, and of the long form."""

ELSEWHERE = {
    16: ("edit with a stale version or with none", "tests/core/api, tests/jobs/api"),
    17: ("clock-change days in four zones", "tests/core/test_sending_hours.py"),
    18: ("bombs, deep bodies, huge integers", "tests/core/test_hostile.py"),
    19: ("another holding's ids everywhere", "tests/core/test_matrix.py, tests/jobs/api"),
    20: ("a weather service that hangs, lies or is cut", "tests of the forecasts"),
}
"""Rules that no process has to be killed for; the tests named hold them case by case, without rounds."""


def known() -> dict[int, Fault]:
    """Every fault by its number."""
    found: dict[int, Fault] = {}
    for module in pkgutil.iter_modules(faults.__path__, "tests.faults."):
        table = getattr(importlib.import_module(module.name), "FAULTS", {})
        for number, run in table.items():
            assert number not in found, f"fault {number} is listed twice"
            found[number] = run
    return dict(sorted(found.items()))


def row(number: int, told: dict[str, Any]) -> dict[str, Any]:
    """One line of the table; `good` is what decides."""
    control = told.get("control_failed")
    good = told["lost"] == 0 and told["doubled"] == 0 and (control is None or bool(control))
    return {
        "fault": number,
        "good": good,
        "count": told["count"],
        "lost": told["lost"],
        "doubled": told["doubled"],
        "control": "none" if control is None else int(control),
        "seconds": told["seconds"],
        "what": told["what"],
        "note": told.get("control", ""),
    }


def main(*, sizes: Sequence[int] | None, full: bool, say: Say) -> dict[str, Any]:
    rows, missing = [], []
    for number, run in known().items():
        if sizes and number not in sizes:
            continue
        say(f"Fault {number} ...")
        try:
            rows.append(row(number, run(ROUNDS[number][1])))
        except Missing as absent:
            missing.append(f"Fault {number} was not run: {absent} is not on this machine.")
        except Exception:  # one fault that cannot be counted must not hide the others
            say(traceback.format_exc())
            broken = {"count": 0, "lost": -1, "doubled": -1, "seconds": 0, "what": "the run broke, see above"}
            rows.append(row(number, broken))
        say(str(rows[-1] if rows else ""))
    for number, (what, where) in ELSEWHERE.items():
        say(f"Fault {number}, {what}: held case by case by {where}.")
    for sentence in missing:
        say(sentence)
    return {"rows": rows, "ratios": {}, "equal": bool(rows) and not missing and all(one["good"] for one in rows)}
