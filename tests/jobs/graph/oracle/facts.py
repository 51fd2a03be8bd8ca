"""Jobs with their facts applied, the arcs left in force, and where work may start (D3, D7)."""

from __future__ import annotations

from tests.jobs.graph.oracle.lags import FAR, NEG, after_minimum, until_maximum

ALWAYS = ((NEG, FAR),)


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
