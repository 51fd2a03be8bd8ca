"""States of branches, the copies they need, and the answer put together (D10, D11)."""

from __future__ import annotations

from tests.jobs.graph.oracle.copies import Copy
from tests.jobs.graph.oracle.facts import out_of_order
from tests.jobs.graph.oracle.lags import FAR, Days


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
        i
        for i, other in sorted(problem["branches"].items())
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
    stopped = {i for i in every if every[i]["called_off"]}
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


def members(problem, branches):
    """Jobs done, jobs of the trunk, and those of branches whose whole ancestry is in `branches`."""
    return {
        i
        for i, n in problem["nodes"].items()
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
                for b in sorted(key)
                if states[b] == "not_called_for" and every[b]["opened_by"] is not None
                for i, n in sorted(problem["nodes"].items())
                if b in ancestry(problem, n["branch"])
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
                es=es,
                ef=copy.finish(i, es),
                ls=ls,
                lf=copy.finish(i, ls),
                slack=copy.slack(i),
                last_chance=max(c.ls[i] for c in copies if i in c.jobs),
                contradiction=i in copy.contradiction,
                on_reference=copy is home[None],
                critical=copy.critical(i),
                out_of_order=out_of_order(problem, curves, i),
            )
            row["early_arcs"], row["late_arcs"] = copy.reasons(i)
            limits = [
                home[b].ls[i]
                for b in every
                if every[b]["opened_by"] == i and states[b] == "not_called_for" and i in home[b].jobs
            ]
            if limits and min(limits) < FAR:
                row["look_by"] = min(limits)
        dates[i] = row
    for copy in copies:
        eased |= copy.eased
    return {"dates": dates, "branches": states, "eased": eased}
