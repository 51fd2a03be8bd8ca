"""Dates of one choice of branches, relaxed until nothing moves (D8, D9, D14)."""

from __future__ import annotations

from tests.jobs.graph.oracle.facts import ALWAYS, arcs_in_force, down, end_offset, is_fixed, settle, up
from tests.jobs.graph.oracle.lags import (
    FAR,
    HORIZON,
    NEG,
    after_minimum,
    before_minimum,
    plus,
    since_maximum,
    until_maximum,
)


def strong_parts(ids, links):
    """Strongly connected parts, each a frozenset, predecessors before successors."""
    reach = {}
    for start in ids:
        seen, stack = {start}, [start]
        while stack:
            for other in links[stack.pop()]:
                if other not in seen:
                    seen.add(other)
                    stack.append(other)
        reach[start] = seen
    parts = {i: frozenset(k for k in reach[i] if i in reach[k]) for i in ids}
    left, ordered = sorted(set(parts.values()), key=min), []
    while left:
        for part in left:
            sources = {p for p in left if p is not part and any(k in reach[i] for i in p for k in part)}
            if not sources:
                ordered.append(part)
                left.remove(part)
                break
    return ordered


class Copy:
    """Dates of one choice of branches: es, ls, contradiction by job id."""

    def __init__(self, problem, curves, active, extra_bounds=(), ignore_maximum=False):
        self.problem, self.curves, self.today = problem, curves, problem["today"]
        self.jobs = {i: settle(problem["nodes"][i], self.today) for i in sorted(active)}
        self.arcs = arcs_in_force(problem, self.jobs)
        for number, (tail, head) in enumerate(extra_bounds):
            if tail in self.jobs and head in self.jobs and not is_fixed(self.jobs[head]):
                self.arcs["check", number] = {
                    "tail": tail,
                    "head": head,
                    "relation": "FS",
                    "minimum": {"kind": "fixed", "minutes": 0},
                    "maximum": None,
                    "confirmed_at": None,
                }
        if ignore_maximum:
            for arc in self.arcs.values():
                arc["maximum"] = None
        self.silent = set()
        self.contradiction, self.broken, self.eased = set(), set(), set()
        self._forward()
        self._backward()

    def _parts(self, ids):
        """Strongly connected parts of these jobs over minimal lags forward and maximal lags backward."""
        links = {i: set() for i in ids}
        for name, arc in self.arcs.items():
            if self._inner(arc, links):
                if arc["minimum"]:
                    links[arc["tail"]].add(arc["head"])
                if arc["maximum"] and name not in self.silent:
                    links[arc["head"]].add(arc["tail"])
        return strong_parts(list(links), links)

    def _silence(self, part, end, values, nothing):
        """Set aside the part's own maximal lags that send nothing, since the job at that end has no date (D2)."""
        found = {
            name
            for name, arc in self.arcs.items()
            if self._inner(arc, part) and arc["maximum"] and values[arc[end]] == nothing and name not in self.silent
        }
        self.silent |= found
        return found

    # bounds of single arcs

    def _offsets(self, arc):
        relation = arc["relation"]
        return end_offset(relation[0], self.jobs[arc["tail"]]), end_offset(relation[1], self.jobs[arc["head"]])

    def _anchor(self, arc, reading):
        start, finish = self.jobs[arc["tail"]][reading]
        return finish if arc["relation"][0] == "F" else start

    def _lower_for_head(self, arc, es):
        a, b = self._offsets(arc)
        if arc["confirmed_at"] is not None:
            return plus(arc["confirmed_at"], -b)
        if is_fixed(self.jobs[arc["tail"]]):
            anchor = self._anchor(arc, "late")
        else:
            anchor = plus(es[arc["tail"]], a)
        return plus(after_minimum(self.curves, arc["minimum"], anchor), -b)

    def _lower_for_tail(self, arc, es):
        a, b = self._offsets(arc)
        return plus(since_maximum(self.curves, arc["maximum"], plus(es[arc["head"]], b)), -a)

    def _upper_for_tail(self, arc, ls):
        a, b = self._offsets(arc)
        if arc["confirmed_at"] is not None:
            return FAR
        return plus(before_minimum(self.curves, arc["minimum"], plus(ls[arc["head"]], b)), -a)

    def _upper_for_head(self, arc, ls):
        a, b = self._offsets(arc)
        if is_fixed(self.jobs[arc["tail"]]):
            anchor = self._anchor(arc, "early")
        else:
            anchor = plus(ls[arc["tail"]], a)
        return plus(until_maximum(self.curves, arc["maximum"], anchor), -b)

    # the two passes, part by part

    def _inner(self, arc, part):
        return arc["tail"] in part and arc["head"] in part

    def _maximum_counts(self, name, arc, part, plain):
        if not arc["maximum"] or name in self.silent:
            return False
        return plain is not None or not self._inner(arc, part)

    def _climb(self, part, values, plain):
        """Raise `values` over all arcs into the part until stable.

        `plain` holds the dates without the part's own maximal lags, or is None while these are reckoned. With it, the
        answer is None when a job that had a date there passes its last allowed start or the horizon.
        """
        moved = True
        while moved:
            moved = False
            for name, arc in self.arcs.items():
                bounds = []
                if arc["minimum"] and arc["head"] in part:
                    bounds.append((arc["head"], self._lower_for_head(arc, values)))
                if arc["tail"] in part and self._maximum_counts(name, arc, part, plain):
                    bounds.append((arc["tail"], self._lower_for_tail(arc, values)))
                for job_id, bound in bounds:
                    new = up(self.jobs[job_id], max(values[job_id], bound))
                    if new > values[job_id]:
                        values[job_id] = new
                        moved = True
                        if plain is not None and plain[job_id] < FAR:
                            limit = max(plain[job_id], self.today + HORIZON)
                            if new == FAR or new > limit:
                                return None
        return values

    def _forward(self):
        self.silent.clear()
        self.es = {}
        self._forward_in([i for i, job in self.jobs.items() if not is_fixed(job)])
        for i, job in self.jobs.items():
            if is_fixed(job):
                self.es[i] = job["late"][0]

    def _forward_in(self, ids):
        for part in self._parts(ids):
            start = dict(self.es)
            for i in part:
                job = self.jobs[i]
                start[i] = NEG if job["kind"] == "relay" else up(job, self.today)
            plain = self._climb(part, dict(start), None)
            if self._silence(part, "head", plain, FAR):
                self._forward_in(part)
                continue
            found = self._climb(part, dict(plain), plain)
            if found is None:
                self.contradiction |= part
                self.broken |= {name for name, arc in self.arcs.items() if self._inner(arc, part)}
                found = plain
            self.es = found

    def _fall(self, part, values, plain):
        """Lower `values` over all arcs out of the part, the mirror of `_climb`."""
        moved = True
        while moved:
            moved = False
            for name, arc in self.arcs.items():
                bounds = []
                if arc["minimum"] and arc["tail"] in part:
                    bounds.append((arc["tail"], self._upper_for_tail(arc, values)))
                if arc["head"] in part and self._maximum_counts(name, arc, part, plain):
                    bounds.append((arc["head"], self._upper_for_head(arc, values)))
                for job_id, bound in bounds:
                    new = down(self.jobs[job_id], min(values[job_id], bound))
                    if new < values[job_id]:
                        values[job_id] = new
                        moved = True
                        if plain is not None and plain[job_id] > NEG:
                            limit = min(plain[job_id], self.today - HORIZON)
                            if new == NEG or new < limit:
                                return None
        return values

    def _backward(self):
        self.silent = set(self.broken)
        self.ls = {}
        self._backward_in([i for i, job in self.jobs.items() if not is_fixed(job)])
        for i, job in self.jobs.items():
            if job["kind"] == "done":
                self.ls[i] = self.es[i]
            elif job["kind"] == "under_way":
                free = {"spans": ALWAYS, "length": job["length"]}
                latest = down(free, FAR if job["deadline"] is None else job["deadline"] - job["length"])
                for arc in self.arcs.values():
                    if arc["tail"] == i and arc["minimum"]:
                        latest = min(latest, self._upper_for_tail(arc, self.ls))
                self.ls[i] = latest

    def _backward_in(self, ids):
        for part in reversed(self._parts(ids)):
            start = dict(self.ls)
            for i in part:
                job = self.jobs[i]
                start[i] = down(job, FAR if job["deadline"] is None else job["deadline"] - job["length"])
            plain = self._fall(part, dict(start), None)
            if self._silence(part, "tail", plain, NEG):
                self._backward_in(part)
                continue
            found = self._fall(part, dict(plain), plain)
            if found is None:
                self.eased |= part
                self.silent |= {name for name, arc in self.arcs.items() if self._inner(arc, part)}
                found = plain
            self.ls = found

    def reasons(self, i):
        """Arcs whose bound is the job's very earliest start, and those whose bound is its very latest start.

        Implied waits for a check stand among them as ("check", number). Jobs with facts have none going forward.
        """
        early, late = [], []
        for name, arc in self.arcs.items():
            maximum = arc["maximum"] and name not in self.broken
            if arc["head"] == i and arc["minimum"]:
                early.append((name, self._lower_for_head(arc, self.es)))
            if arc["tail"] == i and maximum and not is_fixed(self.jobs[i]):
                early.append((name, self._lower_for_tail(arc, self.es)))
            if arc["tail"] == i and arc["minimum"]:
                late.append((name, self._upper_for_tail(arc, self.ls)))
            if arc["head"] == i and maximum:
                late.append((name, self._upper_for_head(arc, self.ls)))
        early = [name for name, bound in early if bound == self.es[i]]
        late = [name for name, bound in late if bound == self.ls[i]]
        return early, late

    def finish(self, i, start):
        job = self.jobs[i]
        if is_fixed(job) and start == job["late"][0]:
            return job["late"][1]
        return plus(start, job["length"])

    def slack(self, i):
        if self.ls[i] == FAR:
            return FAR
        if self.es[i] == FAR or self.ls[i] == NEG:
            return NEG
        return FAR if self.es[i] == NEG else self.ls[i] - self.es[i]

    def critical(self, i):
        """Whether no job of the season that is to be done has less slack in this copy, unknown slack left out."""
        nodes = self.problem["nodes"]
        left = {
            k: self.slack(k)
            for k, job in self.jobs.items()
            if job["kind"] in ("open", "under_way") and nodes[k]["season"] == nodes[i]["season"]
        }
        return i in left and left[i] == min((v for v in left.values() if NEG < v < FAR), default=None)

    def lapsed(self, i):
        return self.jobs[i]["kind"] == "open" and self.ls[i] < self.es[i]
