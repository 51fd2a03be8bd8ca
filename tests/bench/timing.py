"""Timing and the rows of a bench."""

from __future__ import annotations

import gc
import time
from collections.abc import Callable
from typing import Any

Say = Callable[[str], object]


def timed(run: Callable[[], Any], clock: Callable[[], float] = time.perf_counter) -> tuple[float, Any]:
    """(seconds, answer); what was there before is no work for the collector of rubbish."""
    gc.collect()
    gc.freeze()
    try:
        start = clock()
        answer = run()
        return clock() - start, answer
    finally:
        gc.unfreeze()


def row(jobs: int, what: str, seconds: float, ratio: float | None, shown: str = "") -> dict[str, Any]:
    return {
        "jobs": jobs,
        "what": what,
        "ms": float(f"{seconds * 1000:.4g}"),
        "ratio": "" if ratio is None else float(f"{ratio:.3g}"),
        "shown": shown,
    }
