"""A second, naive reckoning of the graph's dates, written from definitions D1 to D14 alone.

It imports nothing of the project and shares no code with it. Input is plain dicts (`reckon` says which), every
bound is relaxed until nothing moves, weather lags are searched day by day, and every copy of the choices is reckoned
anew. It is slow on purpose; the only thing asked of it is that each line can be held against a definition.

Readings chosen where the definitions leave room (each is tested by comparison, so the graph takes them too):

* A job done keeps its fact in every date: latest start = earliest start, slack 0.
* A job under way: its own latest start comes from its successors and its deadline, not from its spans.
* Slack is FAR without a latest start; where the earliest start is FAR or the latest NEG, it is NEG.
* A clock started by rain runs from the end of the first day whose rain alone reaches the amount. Backward, rain after
  the record may come at once.
* A maximal lag of degree days ends one minute before the day whose sum exceeds it is over.
* Forward and backward, a strongly connected part is first reckoned without its maximal lags. A job unknown (FAR, NEG)
  already then sends nothing through them (D2), so that these are taken out and the part is split again. A job that only
  *becomes* FAR through them makes a contradiction of its part (D14).
* A part in which a job only becomes NEG through its maximal lags keeps the latest starts without them, unmarked
  (`eased`). The job that misses its deadline or its spans then shows it all the same: were all earliest starts in time,
  they would satisfy every arc, and no latest start could be NEG.
* A branch is begun when a job of it or of a branch nested in it is, done when all its own jobs are and every branch
  nested in it is done or dead. A person's call-off of a branch outranks what was begun in it, also for its siblings.
  Jobs done are facts in every copy, whatever became of their branch.
* A branch is viable if no open job of it, and none that has one of it as predecessor, has its latest start before its
  earliest.
* Critical is the least slack of a season within one copy, over open jobs and those under way; out of order is an arc
  between two reports of work, named at its head. A finish not reported yet can only be too late, not too early.
* "Look by" is the strictest of its copies, and nothing where none has a deadline.
* In the copy of a branch that waits for an outcome, the other branches of the same check are left out.
"""

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


# ---- weather lags by linear search (D5)


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


# ---- allowed starts (D3)


def start_range(span, duration):
    """First and last allowed start in one half-open span, or None."""
    first, end = span
    if end == FAR:
        return first, FAR
    last = end - duration if duration else end - 1
    return (first, last) if first <= last else None


def up(job, instant):
    """Least allowed start at or after the instant."""
    best = FAR
    for span in job["spans"]:
        allowed = start_range(span, job["length"])
        if allowed and allowed[1] >= instant:
            best = min(best, max(allowed[0], instant))
    return best


def down(job, instant):
    """Greatest allowed start at or before the instant."""
    best = NEG
    for span in job["spans"]:
        allowed = start_range(span, job["length"])
        if allowed and allowed[0] <= instant:
            best = max(best, min(allowed[1], instant))
    return best


# ---- facts (D7)

ALWAYS = ((NEG, FAR),)


def settle(node, today):
    """One job with its facts applied.

    kind is "open", "under_way", "done" (also satisfied skips) or "relay"; fixed jobs carry start and finish in both
    readings, late for minimal and early for maximal lags.
    """
    job = {name: node[name] for name in ("id", "spans", "deadline")}
    job.update(kind="open", length=node["duration"], met=False)
    late, early = ("late", 1), ("early", 0)
    if node["finished"]:
        job["kind"] = "done"
        for name, at in (late, early):
            finish = node["finished"][at]
            start = node["started"][at] if node["started"] else finish - node["duration"]
            job[name] = (start, finish)
    elif node["started"]:
        job["kind"] = "under_way"
        for name, at in (late, early):
            start = node["started"][at]
            if node["rest"] is None:
                finish = max(start + node["duration"], today)
            else:
                finish = max(start, today) + node["rest"]
            job[name] = (start, finish)
        job["length"] = job["late"][1] - job["late"][0]
    elif node["skipped"] == "satisfied":
        job["kind"] = "done"
        job["late"] = job["early"] = (node["skipped_at"], node["skipped_at"])
        job.update(length=0, met=True)
    elif node["skipped"] == "passed_over" or node["called_off"]:
        job.update(kind="relay", length=0, spans=ALWAYS, deadline=None)
    return job


def is_fixed(job):
    return job["kind"] in ("done", "under_way")


def arcs_in_force(problem, jobs):
    """The arcs of a copy after skips: {id: arc} with both ends present and not both facts."""
    kept = {}
    for arc_id in sorted(problem["arcs"]):
        arc = dict(problem["arcs"][arc_id])
        if arc["tail"] not in jobs or arc["head"] not in jobs:
            continue
        tail, head = jobs[arc["tail"]], jobs[arc["head"]]
        if tail["met"] or tail["kind"] == "relay":
            if arc["minimum"]:
                arc["minimum"] = {"kind": "fixed", "minutes": 0}
            arc.update(maximum=None, confirmed_at=None)
        if head["kind"] == "relay":
            arc["maximum"] = None
        if is_fixed(head):
            continue
        kept[arc_id] = arc
    return kept


def end_offset(letter, job):
    """Minutes from a job's start to the end that the relation names."""
    return job["length"] if letter == "F" else 0


# ---- one copy


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
                    "tail": tail, "head": head, "relation": "FS", "minimum": {"kind": "fixed", "minutes": 0},
                    "maximum": None, "confirmed_at": None,
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
            name for name, arc in self.arcs.items()
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
            k: self.slack(k) for k, job in self.jobs.items()
            if job["kind"] in ("open", "under_way") and nodes[k]["season"] == nodes[i]["season"]
        }
        return i in left and left[i] == min((v for v in left.values() if NEG < v < FAR), default=None)

    def lapsed(self, i):
        return self.jobs[i]["kind"] == "open" and self.ls[i] < self.es[i]


# ---- branches (D10, D11)


def ancestry(problem, branch_id):
    """The branch and what it is nested in, innermost first."""
    chain = []
    while branch_id is not None:
        chain.append(branch_id)
        branch_id = problem["branches"][branch_id]["parent"]
    return chain


def siblings(problem, branch_id):
    own = problem["branches"][branch_id]
    if own["group"] is None:
        return []
    return [
        i for i, other in sorted(problem["branches"].items())
        if i != branch_id and (other["season"], other["group"]) == (own["season"], own["group"])
    ]


def branch_states(problem):
    """State of every branch, and the branches that were done beside a sibling done too."""
    begun, unfinished = set(), set()
    for node in problem["nodes"].values():
        for branch_id in ancestry(problem, node["branch"]):
            if node["finished"] or node["started"]:
                begun.add(branch_id)
        if not node["finished"]:
            unfinished.add(node["branch"])
    every = problem["branches"]
    stopped = {i for i in every if any(every[b]["called_off"] for b in ancestry(problem, i))}
    begun -= stopped

    def excluded(branch_id):
        branch = every[branch_id]
        if branch["opened_by"] is None:
            return False
        check = problem["nodes"][branch["opened_by"]]
        return bool(check["finished"]) and check["outcome"] not in (None, *branch["outcomes"])

    def finished(branch_id):
        if branch_id not in begun or branch_id in unfinished:
            return False
        for nested in [i for i in every if every[i]["parent"] == branch_id]:
            passed = excluded(nested) or any(finished(i) for i in siblings(problem, nested))
            dead = nested in stopped or (passed and nested not in begun)
            if not dead and not finished(nested):
                return False
        return True

    done = {i for i in every if finished(i)}

    def state(branch_id):
        branch = every[branch_id]
        beside = siblings(problem, branch_id)
        above = state(branch["parent"]) if branch["parent"] is not None else "open"
        if above == "dead" or branch_id in stopped:
            return "dead"
        if branch_id in begun:
            return "chosen"
        if excluded(branch_id) or any(i in done for i in beside):
            return "dead"
        if any(i in begun for i in beside):
            return "paused"
        if above == "paused":
            return "paused"
        check = problem["nodes"][branch["opened_by"]] if branch["opened_by"] is not None else None
        waiting = check and not (check["finished"] and check["outcome"] is not None) and not branch["expected"]
        return "not_called_for" if waiting or above == "not_called_for" else "open"

    states = {i: state(i) for i in every}
    return states, {i for i in done if any(k in done for k in siblings(problem, i))}


def out_of_order(problem, curves, head_id):
    """Arcs into a reported job that the reports on both ends violate; a skip is no report of work."""
    found = []
    head = problem["nodes"][head_id]
    for arc_id, arc in sorted(problem["arcs"].items()):
        tail = problem["nodes"][arc["tail"]]
        if arc["head"] != head_id or not all(node["started"] or node["finished"] for node in (tail, head)):
            continue
        ends = {name: settle(node, problem["today"]) for name, node in (("tail", tail), ("head", head))}

        def end(name, letter, reading, ends=ends):
            return ends[name][reading][1 if letter == "F" else 0]

        first, second = arc["relation"]
        least, most = NEG, FAR
        if second == "F" and not head["finished"]:
            pass
        elif arc["confirmed_at"] is not None:
            least = arc["confirmed_at"]
        elif arc["minimum"]:
            least = after_minimum(curves, arc["minimum"], end("tail", first, "late"))
        if arc["maximum"]:
            most = until_maximum(curves, arc["maximum"], end("tail", first, "early"))
        if end("head", second, "late") < least or end("head", second, "early") > most:
            found.append(arc_id)
    return tuple(found)


def members(problem, branches):
    """Jobs done, jobs of the trunk, and those of branches whose whole ancestry is in `branches`."""
    return {
        i for i, n in problem["nodes"].items()
        if n["finished"] or all(b in branches for b in ancestry(problem, n["branch"]))
    }


def reckon(problem, ignore_maximum=False):
    """Dates of every job and the state of every branch.

    `problem`: today; nodes {id: dict of the node's fields, Moments as (early, late)}; arcs {id: tail, head, relation
    "FS".., minimum and maximum as None or {"kind": "fixed", "minutes"}, {"kind": "degree_days", "curve", "amount"},
    {"kind": "rain", "curve", "amount", "then"}, confirmed_at}; branches {id: dict}; curves {id: starts, values,
    sources}. Returns {"dates": {job: dict}, "branches": {id: state}, "eased": set of jobs}.
    `ignore_maximum` breaks it on purpose, to show that a comparison with it can fail.
    """
    curves = {i: Days(c["starts"], c["values"], c["sources"]) for i, c in problem["curves"].items()}
    states, conflict = branch_states(problem)
    every = problem["branches"]
    made = {}

    def copy_of(branches):
        key = frozenset(branches)
        if key not in made:
            extra = [
                (every[b]["opened_by"], i)
                for b in sorted(key) if states[b] == "not_called_for" and every[b]["opened_by"] is not None
                for i, n in sorted(problem["nodes"].items()) if b in ancestry(problem, n["branch"])
            ]
            made[key] = Copy(problem, curves, members(problem, key), extra, ignore_maximum)
        return made[key]

    groups = {}
    for i in sorted(every, key=lambda i: (every[i]["order"], i)):
        if every[i]["group"] is not None:
            groups.setdefault((every[i]["season"], every[i]["group"]), []).append(i)

    def may_be_first(i):
        """Open, or (nested) in the very state that it has from the branch around it."""
        around = every[i]["parent"]
        return states[i] == "open" or (around is not None and states[i] == states[around] != "dead")

    choice = {}
    for key, ids in groups.items():
        choice[key] = [i for i in ids if states[i] == "chosen"] or [i for i in ids if may_be_first(i)][:1]

    def in_reference():
        picked = {i for ids in choice.values() for i in ids}
        return picked | {i for i, b in every.items() if b["group"] is None and states[i] in ("chosen", "open")}

    def with_branch(branch_id, branches):
        """The copy in which this branch, and what it is nested in if that is not there, replace their siblings."""
        branches = set(branches)
        for b in set(ancestry(problem, branch_id)) - branches:
            branches -= set(siblings(problem, b))
            if states[b] == "not_called_for" and every[b]["opened_by"] is not None:
                branches -= {i for i in every if every[i]["opened_by"] == every[b]["opened_by"]}
        return copy_of(branches | set(ancestry(problem, branch_id)))

    def viable(branch_id, copy):
        jobs = {i for i in copy.jobs if branch_id in ancestry(problem, problem["nodes"][i]["branch"])}
        jobs |= {a["head"] for a in problem["arcs"].values() if a["tail"] in jobs and a["head"] in copy.jobs}
        return not any(copy.lapsed(i) for i in jobs)

    for key in sorted(groups):
        if any(states[i] == "chosen" for i in groups[key]):
            continue
        first = choice[key]
        for i in groups[key]:
            if may_be_first(i):
                choice[key] = [i]
                if viable(i, with_branch(i, in_reference())):
                    break
        else:
            choice[key] = first
    reference = in_reference()

    home = {None: copy_of(reference)}
    for i in every:
        if all(b in reference for b in ancestry(problem, i)):
            home[i] = home[None]
        elif states[i] != "dead":
            home[i] = with_branch(i, reference)
    copies = list({id(c): c for c in home.values()}.values())

    dates, eased = {}, set()
    for i, node in sorted(problem["nodes"].items()):
        row = dict.fromkeys(("es", "ef", "ls", "lf", "slack", "last_chance"), FAR)
        row.update(look_by=None, contradiction=False, on_reference=False, critical=False, out_of_order=())
        row.update(early_arcs=[], late_arcs=[])
        row["conflict"] = any(b in conflict for b in ancestry(problem, node["branch"]))
        if node["finished"] or node["branch"] in home:
            copy = home[None if node["finished"] else node["branch"]]
            es, ls = copy.es[i], copy.ls[i]
            row.update(
                es=es, ef=copy.finish(i, es), ls=ls, lf=copy.finish(i, ls), slack=copy.slack(i),
                last_chance=max(c.ls[i] for c in copies if i in c.jobs),
                contradiction=i in copy.contradiction, on_reference=copy is home[None],
                critical=copy.critical(i), out_of_order=out_of_order(problem, curves, i),
            )
            row["early_arcs"], row["late_arcs"] = copy.reasons(i)
            limits = [
                home[b].ls[i] for b in every
                if every[b]["opened_by"] == i and states[b] == "not_called_for" and i in home[b].jobs
            ]
            if limits and min(limits) < FAR:
                row["look_by"] = min(limits)
        dates[i] = row
    for copy in copies:
        eased |= copy.eased
    return {"dates": dates, "branches": states, "eased": eased}
