"""What a sequence must keep to once it is read: each fault is one plain sentence."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from datetime import timedelta

from jobs.graph.data import Relation
from jobs.sequences.options import OTHER
from jobs.sequences.reference import HAZARDS, Reference
from jobs.sequences.spec import AcrossSpec, BranchSpec, DeadlineRule, LinkSpec, SequenceSpec, StepSpec, Unit

_COUNTING = re.compile(r"\d+(/\d+)?")
_YEAR = 2027  # any year without 29 February: dates of a sequence are compared inside one season


def faults_of(spec: SequenceSpec, reference: Reference) -> list[str]:
    """Every fault of a sequence, in the order of its rows; none if it can be used."""
    faults = list(_head(spec, reference))
    for step in spec.steps:
        faults += [f"Step {step.key}: {fault}" for fault in _step(step, spec, reference)]
    for link in spec.links:
        faults += [f"Link {link.before} to {link.after}: {fault}" for fault in _link(link, spec, reference)]
    for branch in spec.branches:
        faults += [f"Branch {branch.key}: {fault}" for fault in _branch(branch, spec)]
    for across in spec.across:
        faults += [f"Across to {across.to}: {fault}" for fault in _across(across, spec, reference)]
    return faults + list(_cycle(spec))


def lineage(branch: str | None, spec: SequenceSpec) -> list[str]:
    """A branch and the branches it is nested in, innermost first; ends at a parent that is unknown or met before."""
    parents = {b.key: b.parent for b in spec.branches}
    line: list[str] = []
    while branch in parents and branch not in line:
        line.append(branch)
        branch = parents[branch]
    return line


def _twice(names: list[object], what: str) -> Iterator[str]:
    for name, count in Counter(names).items():
        if count > 1:
            yield f"{what} {name} is given twice."


def _head(spec: SequenceSpec, reference: Reference) -> Iterator[str]:
    if spec.crop and spec.crop not in reference.crops:
        yield f"The crop '{spec.crop}' is unknown."
    if not spec.crop and not spec.habitat:
        yield "It names neither a crop nor a habitat."
    if spec.last < spec.first:
        yield f"Its season ends on {spec.last} before it begins on {spec.first}."
    if not isinstance(spec.version, int) or spec.version < 1:
        yield "Its version is a whole number from 1."
    if not spec.steps:
        yield "It has no steps."
    yield from _twice([step.key for step in spec.steps], "Step")
    yield from _twice([branch.key for branch in spec.branches], "Branch")
    ends = [(link.before, link.after, link.relation.value) for link in spec.links]
    for before, after, relation in (end for end, count in Counter(ends).items() if count > 1):
        yield f"The link {before} to {after} ({relation}) is given twice."


def _step(step: StepSpec, spec: SequenceSpec, reference: Reference) -> Iterator[str]:
    if step.last < step.first:
        yield f"its dates end on {step.last} before they begin on {step.first}."
    elif step.first < spec.first or step.last > spec.last:
        yield f"its dates {step.first} to {step.last} leave the season {spec.first} to {spec.last}."
    if step.best is not None and not step.first <= step.best[0] <= step.best[1] <= step.last:
        yield f"its best days {step.best[0]} to {step.best[1]} leave its dates {step.first} to {step.last}."
    if step.deadline is not None:
        yield from _deadline(step.deadline, step)
    if step.repeat is not None and (step.repeat.latest_days or step.repeat.every_days) < step.repeat.every_days:
        yield "its repeat is due later than it may be put off."
    if step.repeat is not None and step.repeat.until is not None and not step.first <= step.repeat.until <= spec.last:
        yield f"its repeat ends on {step.repeat.until}, outside its season."
    for ending in step.repeat.until_done if step.repeat is not None else ():
        if ending == step.key or ending not in {other.key for other in spec.steps}:
            yield f"its repeat ends with '{ending}', which is no other step."
    if step.branch is not None and step.branch not in {branch.key for branch in spec.branches}:
        yield f"its branch '{step.branch}' is unknown."
    for hazard in step.hazards:
        if hazard not in HAZARDS:
            yield f"its hazard '{hazard}' is unknown; use {', '.join(HAZARDS)}."
    for outcome, observed in step.observes:
        if outcome not in step.outcomes:
            yield f"it observes on the outcome '{outcome}', which it does not have."
        if observed not in reference.observations:
            yield f"it observes '{observed}', which is no known observation."
    if "fire" in step.hazards and step.least_crew < 2:
        yield "work with fire is never for fewer than two people."
    for limit in step.limits:
        if limit.what not in reference.limits:
            yield f"it limits '{limit.what}', which is no known limit."
    kinds = {"machine": reference.machines, "material": reference.materials}
    for need in step.needs:
        if need.kind in kinds and (need.material or need.name) not in kinds[need.kind]:
            yield f"it needs the unknown kind of {need.kind} '{need.material or need.name}'."
        if need.rate_per_acre is not None and need.rate_per_acre <= 0:
            yield f"the rate of {need.name} lies above 0."


def _deadline(deadline: DeadlineRule, step: StepSpec) -> Iterator[str]:
    if deadline.day is not None and deadline.day < step.first:
        yield f"its last day {deadline.day} comes before its first, {step.first}."
    if deadline.less_days < 0:
        yield "its last day lies a number of days before the freeze, not after it."


def _waits(row: LinkSpec | AcrossSpec, reference: Reference) -> Iterator[str]:
    low, high = row.minimum, row.maximum
    if low is not None and low.amount < 0 and low.unit not in (Unit.HOURS, Unit.DAYS):
        yield "a lead (a minimum below 0) is counted in hours or days."
    if high is not None and high.unit is Unit.RAIN_IN:
        yield "a maximum is counted in hours, days or degree days, not in rain."
    if low is not None and high is not None:
        same = low.unit is high.unit and low.amount > high.amount
        fixed = low.days is not None and high.days is not None and low.days > high.days
        if same or fixed:
            yield "its minimum wait is longer than its maximum."
    if row.confirm and row.confirm not in reference.observations:
        yield f"it is confirmed by '{row.confirm}', which is no known observation."


def _link(link: LinkSpec, spec: SequenceSpec, reference: Reference) -> Iterator[str]:
    steps = {step.key: step for step in spec.steps}
    for end in (link.before, link.after):
        if end not in steps:
            yield f"the step '{end}' is unknown."
    yield from _waits(link, reference)
    counted = any(wait is not None and wait.unit is Unit.DEGREE_DAYS for wait in (link.minimum, link.maximum))
    if counted and not _COUNTING.fullmatch(link.degree_days):
        yield "a wait in degree days says how they are counted: '86/50', or a base such as '50'."
    if link.before not in steps or link.after not in steps:
        return
    before, after = steps[link.before], steps[link.after]
    low = link.minimum.days if link.minimum is not None else 0.0
    if link.relation is Relation.FINISH_START and low is not None:
        earliest = before.first.in_year(_YEAR) + timedelta(days=low)
        if earliest > after.last.in_year(_YEAR):
            yield f"{after.key} ends on {after.last}, before {before.key} and the wait can be over."
    if set(_apart(before.branch, after.branch, spec)):
        yield "it ties two alternatives of one group, of which only one is ever done."


def _apart(one: str | None, other: str | None, spec: SequenceSpec) -> Iterator[str]:
    """Groups of which the two branches hold different members."""
    groups = {b.key: (b.parent, b.group) for b in spec.branches if b.group is not None}
    for mine in lineage(one, spec):
        for theirs in lineage(other, spec):
            if mine != theirs and mine in groups and groups[mine] == groups.get(theirs):
                yield mine


def _branch(branch: BranchSpec, spec: SequenceSpec) -> Iterator[str]:
    known = {b.key for b in spec.branches}
    if branch.parent is not None and branch.parent not in known:
        yield f"its parent '{branch.parent}' is unknown."
    if branch.key in lineage(branch.parent, spec):
        yield "it is nested in itself."
    if branch.group is None and branch.opened_by is None:
        yield "nothing opens it: give a group of alternatives, or opened_by with outcomes."
    if not any(branch.key in lineage(step.branch, spec) for step in spec.steps):
        yield "it has no steps."
    if branch.group is not None:
        others = [b for b in spec.branches if (b.parent, b.group) == (branch.parent, branch.group) and b != branch]
        if not others:
            yield f"it is the only alternative of the group '{branch.group}'."
        if any(b.order == branch.order for b in others):
            yield f"another alternative of the group '{branch.group}' has the order {branch.order} too."
    if branch.option is not None and OTHER not in {closing.active for closing in branch.option.closed_by}:
        yield f"its option does not say what an active that is not listed does: add a row '{OTHER}'."
    if branch.opened_by is None:
        return
    opener = next((step for step in spec.steps if step.key == branch.opened_by), None)
    if opener is None:
        yield f"it is opened by the unknown step '{branch.opened_by}'."
        return
    if branch.key in lineage(opener.branch, spec):
        yield f"it is opened by its own step {opener.key}."
    if not branch.outcomes:
        yield f"it does not say which outcomes of {opener.key} open it."
    for outcome in branch.outcomes:
        if outcome not in opener.outcomes:
            yield f"it is opened by the outcome '{outcome}', which {opener.key} does not have."


def _across(across: AcrossSpec, spec: SequenceSpec, reference: Reference) -> Iterator[str]:
    if across.to not in {step.key for step in spec.steps}:
        yield f"the step '{across.to}' is unknown."
    if across.operation not in reference.operations:
        yield f"the field operation '{across.operation}' is unknown."
    if across.scope not in ("plot", "property"):
        yield f"the scope '{across.scope}' is unknown; use plot or property."
    if across.look_back_days < 1:
        yield "it looks back a number of days above 0."
    yield from _waits(across, reference)
    if any(wait is not None and wait.unit is Unit.DEGREE_DAYS for wait in (across.minimum, across.maximum)):
        yield "a wait across seasons is counted in hours, days or rain."


def _cycle(spec: SequenceSpec) -> Iterator[str]:
    """The first cycle of steps, by their titles; a branch comes after the step whose outcome opens it."""
    follows: dict[str, list[str]] = {step.key: [] for step in spec.steps}
    for link in spec.links:
        if link.before in follows and link.after in follows:
            follows[link.before].append(link.after)
    for branch in spec.branches:
        if branch.opened_by in follows:
            members = [step.key for step in spec.steps if branch.key in lineage(step.branch, spec)]
            follows[branch.opened_by] += members
    finished: set[str] = set()
    for root in follows:
        path: list[str] = []
        todo = [(root, iter(follows[root]))] if root not in finished else []
        if todo:
            path.append(root)
        while todo:
            key, heads = todo[-1]
            head = next((h for h in heads if h not in finished), None)
            if head is None:
                finished.add(key)
                path.pop()
                todo.pop()
            elif head in path:
                titles = [spec.step(k).title for k in [*path[path.index(head) :], head]]
                yield "These steps wait for each other in a circle: " + " before ".join(titles) + "."
                return
            else:
                path.append(head)
                todo.append((head, iter(follows[head])))
