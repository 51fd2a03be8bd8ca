"""Saturating minutes, and weather lags searched day by day (D5)."""

from __future__ import annotations

FAR = 2**40
NEG = -(2**40)
DAY = 1440
HORIZON = 730 * DAY


def plus(instant, minutes):
    """Saturating sum: FAR and NEG stay what they are."""
    if instant in (FAR, NEG):
        return instant
    return max(NEG, min(FAR, instant + minutes))


class Days:
    """One curve; all answers by walking over its days, remembered per question."""

    def __init__(self, starts, values, sources):
        self.starts, self.values, self.sources = starts, values, sources
        self.total, running = [], 0
        for value in values:
            running += value
            self.total.append(running)
        self.known = {}

    def day_of(self, instant):
        for k in range(len(self.values)):
            if self.starts[k] <= instant < self.starts[k + 1]:
                return k
        return None

    def f(self, anchor, amount):
        return self._ask("f", anchor, amount)

    def g(self, instant, amount):
        return self._ask("g", instant, amount)

    def h(self, anchor, amount):
        return self._ask("h", anchor, amount)

    def h_back(self, instant, amount):
        return self._ask("h_back", instant, amount)

    def _ask(self, name, instant, amount):
        key = (name, instant, amount)
        if key not in self.known:
            self.known[key] = getattr(self, "_" + name)(instant, amount)
        return self.known[key]

    def _f(self, anchor, amount):
        day = self.day_of(anchor)
        if day is None:
            return FAR
        for k in range(day, len(self.values)):
            if self.total[k] - self.total[day] >= amount:
                return self.starts[k + 1]
        return FAR

    def _g(self, instant, amount):
        if instant == FAR:
            return FAR
        last = None
        for k in range(len(self.values)):
            if self.starts[k + 1] <= instant:
                last = k
        if last is None:
            return NEG
        for k in range(last, -1, -1):
            if self.total[k] <= self.total[last] - amount:
                return self.starts[k + 1] - 1
        return NEG

    def _h(self, anchor, amount):
        day = self.day_of(anchor)
        if day is None:
            return FAR
        for k in range(day + 1, len(self.values)):
            if self.total[k] - self.total[day] > amount:
                return self.starts[k + 1] - 1
        return FAR

    def _h_back(self, instant, amount):
        for k in range(len(self.values)):
            if self.h(self.starts[k], amount) >= instant:
                return self.starts[k] if k else NEG
        return self.starts[-1]

    def rain_back(self, instant, amount):
        """Greatest anchor whose clock has, or beyond the record may have, started by the instant."""
        if instant > self.starts[-1]:
            return instant
        for k in range(len(self.values) - 1, -1, -1):
            if self.rain_from(self.starts[k], amount) <= instant:
                return self.starts[k + 1] - 1
        return NEG

    def rain_from(self, anchor, amount):
        """End of the first observed day after the anchor's whose rain alone reaches the amount; FAR until then."""
        day = self.day_of(anchor)
        if day is None:
            return FAR
        for k in range(day + 1, len(self.values)):
            if self.sources[k] == "observed" and self.values[k] >= amount:
                return self.starts[k + 1]
        return FAR


def after_minimum(curves, lag, anchor):
    """Least instant the successor's end may have, given the predecessor's end."""
    if lag["kind"] == "fixed":
        return plus(anchor, lag["minutes"])
    if anchor in (FAR, NEG):
        return anchor
    if lag["kind"] == "degree_days":
        return curves[lag["curve"]].f(anchor, lag["amount"])
    return plus(curves[lag["curve"]].rain_from(anchor, lag["amount"]), lag["then"])


def before_minimum(curves, lag, instant):
    """Greatest instant the predecessor's end may have, given the successor's end."""
    if instant in (FAR, NEG):
        return instant
    if lag["kind"] == "fixed":
        return plus(instant, -lag["minutes"])
    if lag["kind"] == "degree_days":
        return curves[lag["curve"]].g(instant, lag["amount"])
    return curves[lag["curve"]].rain_back(plus(instant, -lag["then"]), lag["amount"])


def until_maximum(curves, lag, anchor):
    """Greatest instant the successor's end may have; FAR where nothing is sent (D2)."""
    if anchor in (FAR, NEG):
        return FAR
    if lag["kind"] == "fixed":
        return plus(anchor, lag["minutes"])
    return curves[lag["curve"]].h(anchor, lag["amount"])


def since_maximum(curves, lag, instant):
    """Least instant the predecessor's end may have; NEG where nothing is sent (D2)."""
    if instant in (FAR, NEG):
        return NEG
    if lag["kind"] == "fixed":
        return plus(instant, -lag["minutes"])
    return curves[lag["curve"]].h_back(instant, lag["amount"])
