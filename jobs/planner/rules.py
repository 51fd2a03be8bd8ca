"""Entry times and distances, prerequisites, stock, errands and wishes as constraints."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations

from jobs.graph.data import Relation
from jobs.planner.model import Literal, Model
from jobs.planner.problem import MILLI, Job, Problem, Wish, WishKind

FROM_END = frozenset({Relation.FINISH_START, Relation.FINISH_FINISH})
TO_END = frozenset({Relation.FINISH_FINISH, Relation.START_FINISH})


def add_rules(model: Model) -> None:
    """Everything but the wishes."""
    _plots(model)
    _links(model)
    _stock(model)
    _errands(model)


def apart(problem: Problem, one: Job, two: Job) -> tuple[int, int] | None:
    """Minutes between the end of the first and the start of the second, for either order; None if they may overlap."""
    if one.plot == two.plot and (one.entry_min is not None or two.entry_min is not None):
        return one.entry_min or 0, two.entry_min or 0
    near = problem.near(one.plot, two.plot)
    if near < max(one.exclusion_ft, two.exclusion_ft):
        return 0, 0
    return None


def _plots(model: Model) -> None:
    cp = model.cp
    for one, two in combinations(model.jobs, 2):
        gaps = apart(model.problem, one, two)
        if gaps is None:
            continue
        orders = []
        for a, b, gap in ((one, two, gaps[0]), (two, one, gaps[1])):
            if model.can_follow(a.id, b.id, gap):
                lit = cp.new_bool_var(f"{a.id} over before {b.id}")
                cp.add(model.start[b.id] >= model.end[a.id] + gap).only_enforce_if(lit)
                orders.append(lit)
        cp.add_bool_or([model.present[one.id].negated(), model.present[two.id].negated(), *orders])


def _links(model: Model) -> None:
    cp = model.cp
    for link in model.problem.links:
        after, before = model.present.get(link.after), model.present.get(link.before)
        if after is None:
            continue
        if before is None:
            cp.add(after == 0)
            continue
        cp.add_implication(after, before)
        since = model.end[link.before] if link.relation in FROM_END else model.start[link.before]
        until = model.end[link.after] if link.relation in TO_END else model.start[link.after]
        cp.add(until >= since + link.least_min).only_enforce_if(after)
        if link.most_min is not None:
            cp.add(until <= since + link.most_min).only_enforce_if(after)
    for group in model.problem.one_of:
        cp.add_at_most_one([model.present[name] for name in sorted(group) if name in model.present])


def _stock(model: Model) -> None:
    """What starts before the fetched part can be there takes from what is on hand; all together take from both."""
    cp = model.cp
    for material in model.problem.materials:
        takes = {
            job.id: much
            for job in model.jobs
            if (much := sum(round(MILLI * amount) for name, amount in job.materials if name == material.id)) > 0
        }
        fetch = model.present.get(material.fetched_by or "")
        here, more = round(MILLI * material.on_hand), round(MILLI * material.fetched)
        every = sum(much * model.present[name] for name, much in takes.items())
        if fetch is None:
            cp.add(every <= here)
            continue
        cp.add(every <= here + more * fetch)
        early = []
        place = model.problem.job(material.fetched_by or "").place
        for name, much in takes.items():
            late = cp.new_bool_var(f"{name} takes fetched {material.id}")
            cp.add_implication(late, fetch)
            road = model.problem.roads.drive(place, model.problem.job(name).place)
            cp.add(model.start[name] >= model.end[material.fetched_by or ""] + road).only_enforce_if(late)
            now = cp.new_bool_var(f"{name} takes {material.id} on hand")
            cp.add_bool_or([model.present[name].negated(), late, now])
            early.append(much * now)
        cp.add(sum(early) <= here)


def _errands(model: Model) -> None:
    for (shift, name), lit in model.on.items():
        errand = model.problem.job(name)
        if errand.rides_along:
            trips = [
                model.on[shift, job.id]
                for job in model.by_shift[shift]
                if not job.rides_along and job.place == errand.place
            ]
            model.cp.add_bool_or([lit.negated(), *trips])


def add_wish(model: Model, wish: Wish) -> Literal:
    """The literal under which a hard wish holds."""
    cp, lit = model.cp, model.cp.new_bool_var(f"wish {wish.id}")
    shifts = {shift.id: shift for shift in model.problem.shifts}

    def lits(job: str | None, person: str | None, day: str | None) -> list[Literal]:
        return [
            on
            for (shift, name), on in model.on.items()
            if (job is None or name == job)
            and (person is None or shifts[shift].person == person)
            and (day is None or shifts[shift].day == day)
        ]

    match wish.kind:
        case WishKind.MUST:
            cp.add_bool_or([lit.negated(), *lits(wish.job, wish.person, wish.day)])
        case WishKind.MUST_NOT:
            _none(model, lit, lits(wish.job, wish.person, wish.day))
        case WishKind.KEEP_DAY:
            others = [on for day in model.problem.days if day.id != wish.day for on in lits(wish.job, None, day.id)]
            if wish.job is None:
                own = [d.id for d in model.problem.days if d.id != wish.day]
                others = [on for day in own for on in lits(None, wish.person, day)]
            _none(model, lit, others)
        case WishKind.FIRST:
            pass
    return lit


def _none(model: Model, lit: Literal, others: Iterable[Literal]) -> None:
    for other in others:
        model.cp.add_implication(lit, other.negated())
