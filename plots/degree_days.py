"""Degree days, and the curve that lags are counted on (D4, D5)."""

from __future__ import annotations

from collections.abc import Sequence

NEG = -(2**40)
FAR = 2**40


class Curve:
    """Daily values of one series in integer hundredths, past and to come, with the four lag functions of D5.

    Day k is the local civil day from `day_starts[k]` to `day_starts[k + 1]` (minutes since 1970-01-01 UTC, so
    `len(day_starts) == len(values) + 1`); `values[k] >= 0`; `sources[k]` is "observed", "forecast" or "normal".
    An instant before the first day counts as lying in no day we know: the functions answer FAR (or NEG).
    """

    def __init__(self, day_starts: Sequence[int], values: Sequence[int], sources: Sequence[str]) -> None: ...

    def reach(self, anchor: int, hundredths: int) -> int:
        """f: end of the first day k with total(k) - total(day of anchor) >= hundredths; FAR beyond the last day."""

    def latest_anchor(self, instant: int, hundredths: int) -> int:
        """g: last minute of the largest day k with total(k) <= total(last day ended by instant) - hundredths; NEG if none.

        Law: reach(t, D) <= s  <=>  t <= latest_anchor(s, D)."""

    def hold(self, anchor: int, hundredths: int) -> int:
        """h: last minute before the sum counted from the day after the anchor exceeds hundredths; FAR if it never does."""

    def earliest_anchor(self, instant: int, hundredths: int) -> int:
        """Lower adjoint of h: the least t with hold(t, D) >= instant."""
