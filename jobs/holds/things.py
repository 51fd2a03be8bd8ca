"""Holds of one job's own facts: closed days, trouble, consents, sprays, machines, materials, skills (D16). Pure."""

from __future__ import annotations

from collections.abc import Iterator

from jobs.facts import Bound, JobFacts, MachineNeed
from jobs.graph.data import FAR
from jobs.holds.kinds import Clearing, Clears, Hold, HoldKind, at, by_decision, by_report, verdict
from jobs.law.data import RULES


def of(facts: JobFacts, now: int) -> Iterator[Hold]:
    """The holds of a job's own facts at `now`, in a fixed order."""
    if facts.trouble is not None:
        yield from _trouble(facts, now)
    if facts.first is not None and now < facts.first:
        yield Hold(HoldKind.SEASON, facts.id, "season", at(facts.first), facts.dates_source)
    if facts.closures:
        yield from _closed(facts, now)
    if facts.consents:
        yield from _consents(facts, now)
    if facts.sprayed:
        yield from _sprays(facts, now)
    for bound in facts.bounds:
        yield from _bound(facts.id, bound, now)
    for need in facts.machines:
        yield from _machine(facts.id, need, now)
    if facts.materials:
        yield from _materials(facts)
    if facts.skills:
        yield from _skills(facts, now)


def _trouble(facts: JobFacts, now: int) -> Iterator[Hold]:
    """The last word was "could not", or that there is nothing to be seen yet."""
    told = facts.trouble
    if told is None:
        return
    clears = by_report(facts.id, "start or done")
    if facts.trouble_clears is not None:
        if facts.trouble_clears <= now:
            return
        clears = at(facts.trouble_clears)
    inputs = {"reason": told.reason, "at": told.at}
    yield Hold(HoldKind.TROUBLE, facts.id, f"report:{told.report}", clears, inputs=inputs)


def _closed(facts: JobFacts, now: int) -> Iterator[Hold]:
    """Something closes the job's land now."""
    for closure in facts.closures:
        if closure.first <= now < closure.last:
            clears = at(closure.last) if closure.last < FAR else Clears(Clearing.NEVER)
            yield Hold(
                HoldKind(closure.kind),
                facts.id,
                f"{closure.kind}:{closure.id}",
                clears,
                closure.source,
                {"reason": closure.reason, "from": closure.first},
            )


def _consents(facts: JobFacts, now: int) -> Iterator[Hold]:
    for consent in facts.consents:
        given = consent.since is not None and consent.since <= now
        if not given or (consent.until is not None and now >= consent.until):
            clears = at(consent.since) if consent.since is not None and not given else by_decision(consent.whose)
            yield Hold(HoldKind.CONSENT, facts.id, f"consent:{consent.id}", clears, inputs={"whose": consent.whose})


def _sprays(facts: JobFacts, now: int) -> Iterator[Hold]:
    for active in facts.sprayed:
        if active.until is None or active.until > now:
            yield Hold(
                HoldKind.SPRAYED,
                facts.id,
                f"active:{active.active}",
                by_decision("manager") if active.until is None else at(active.until),
                active.source,
                {"active": active.active, "at": active.at, "note": active.note},
            )


def _bound(job: int, bound: Bound, now: int) -> Iterator[Hold]:
    """A rule of label, law, contract or safety, with the version of the rules and the verdict beside its inputs."""
    if not bound.first <= now < bound.last:
        return
    if bound.report:
        clears = by_report(bound.job, bound.report)
    elif bound.who:
        clears = by_decision(bound.who)
    else:
        clears = at(bound.last)
    kind = HoldKind(bound.kind)
    inputs = {**bound.inputs, "rules": RULES, "verdict": verdict(kind)}
    yield Hold(kind, job, bound.rule, clears, bound.source, inputs)


def _machine(job: int, need: MachineNeed, now: int) -> Iterator[Hold]:
    usable = [
        machine
        for machine in need.machines
        if machine.from_minute is not None
        and machine.from_minute <= now
        and (machine.to_minute is None or now < machine.to_minute)
    ]
    if not need.machines or usable:
        return
    back = [m.from_minute for m in need.machines if m.from_minute is not None and m.from_minute > now]
    first = min(need.machines, key=lambda machine: machine.id)
    yield Hold(
        HoldKind.MACHINE,
        job,
        f"machine:{first.id}",
        at(min(back)) if back else by_report(None, "machine"),
        inputs={"kind": need.name, "machine": first.id, "state": first.state},
    )


def _materials(facts: JobFacts) -> Iterator[Hold]:
    for material in facts.materials:
        if material.stock is not None and material.stock < material.needed:
            yield Hold(
                HoldKind.MATERIAL,
                facts.id,
                f"material:{material.id}",
                by_report(None, "stock"),
                inputs={"needed": material.needed, "stock": material.stock, "material": material.id},
            )


def _skills(facts: JobFacts, now: int) -> Iterator[Hold]:
    for skill in facts.skills:
        if any(first <= now and (last is None or now < last) for first, last in skill.held):
            continue
        ahead = min((first for first, _ in skill.held if first > now), default=None)
        clears = at(ahead) if ahead is not None else by_decision("manager")
        yield Hold(HoldKind.SKILL, facts.id, f"skill:{skill.name}", clears, inputs={"skill": skill.name})
