"""Machines: one job at a time, standing where the last one was, brought by one of the crew, washed where it must be."""

from __future__ import annotations

from collections.abc import Sequence

from ortools.sat.python import cp_model

from jobs.planner.model import Expr, Literal, Model
from jobs.planner.problem import Job, Machine


class Moves:
    """`uses[machine, job]`, `brings[shift, job]`, `fetched[job, place]`, `stays[job]`, `washed[machine, job]`."""

    def __init__(self, model: Model) -> None:
        self.model, self.problem, self.cp = model, model.problem, model.cp
        self.uses: dict[tuple[str, str], Literal] = {}
        self.brings: dict[tuple[str, str], Literal] = {}
        self.fetched: dict[tuple[str, str], Literal] = {}
        self.stays: dict[str, Literal] = {}
        self.washed: dict[tuple[str, str], Literal] = {}
        self.takers = [job for job in model.jobs if any(way.machines for way in job.ways)]
        for job in self.takers:
            self._uses(job)
        for machine in self.problem.machines:
            self._machine(machine, [job for job in self.takers if (machine.id, job.id) in self.uses])
        for job in self.takers:
            self._fetching(job)

    def _uses(self, job: Job) -> None:
        cp, name = self.cp, job.id
        ways = {at: lit for (j, at), lit in self.model.way.items() if j == name}
        machines = sorted({m for at in ways for m in job.ways[at].machines})
        for machine in machines:
            own = [lit for at, lit in ways.items() if machine in job.ways[at].machines]
            self.uses[machine, name] = own[0] if len(own) == 1 else cp.new_bool_var(f"{name} takes {machine}")
            if len(own) > 1:
                cp.add(sum(own) == self.uses[machine, name])
            if self.problem.machine(machine).wash_min is not None:
                self.washed[machine, name] = cp.new_bool_var(f"{machine} washed before {name}")
                cp.add_implication(self.washed[machine, name], self.uses[machine, name])
        places = {self.problem.machine(m).stands_at for m in machines}
        places |= {o.place for o in self.takers for way in o.ways if set(way.machines) & set(machines)}
        self.stays[name] = cp.new_bool_var(f"nothing is moved to {name}")
        for place in sorted(places - {job.place}):
            self.fetched[name, place] = cp.new_bool_var(f"{name} fetched at {place}")
        moved = [lit for (j, _), lit in self.fetched.items() if j == name]
        cp.add_exactly_one([self.stays[name], *moved])
        for lit in moved:
            cp.add_implication(lit, self.model.present[name])

    def wash_min(self, job: Job) -> Expr:
        return sum((self.problem.machine(m).wash_min or 0) * lit for (m, j), lit in self.washed.items() if j == job.id)

    def haul_min(self, job: Job) -> Expr:
        return sum(
            self.problem.roads.haul(place, job.place) * lit for (j, place), lit in self.fetched.items() if j == job.id
        )

    def _machine(self, machine: Machine, own: Sequence[Job]) -> None:
        """The row of its jobs: a circuit over those that take it, with its first place as node 0."""
        if not own:
            return
        cp, model, name = self.cp, self.model, machine.id
        haul = self.problem.roads.haul
        cp.add_no_overlap(
            [
                cp.new_optional_interval_var(
                    model.start[j.id], model.size[j.id], model.end[j.id], self.uses[name, j.id], f"{name} {j.id}"
                )
                for j in own
            ]
        )
        node = {job.id: at for at, job in enumerate(own, start=1)}
        idle = cp.new_bool_var(f"{name} idle")
        arcs: list[tuple[int, int, cp_model.LiteralT]] = [(0, 0, idle)]
        carried = self._carried(machine, own)
        for job in own:
            use = self.uses[name, job.id]
            cp.add(model.end[job.id] <= machine.free_to - model.zero).only_enforce_if(use)
            arcs.append((node[job.id], node[job.id], use.negated()))
            arcs.append((node[job.id], 0, cp.new_bool_var(f"{job.id} last on {name}")))
            lit = cp.new_bool_var(f"{job.id} first on {name}")
            arcs.append((0, node[job.id], lit))
            free = machine.free_from - model.zero + haul(machine.stands_at, job.place)
            cp.add(model.start[job.id] >= free + self.wash_min(job)).only_enforce_if(lit)
            self._from(lit, machine.stands_at, job)
            for product, into in carried.items():
                if product in machine.carries:
                    cp.add_implication(lit, into[job.id])
            for before in own:
                gap = haul(before.place, job.place)
                if before is job or not model.can_follow(before.id, job.id, gap):
                    continue
                lit = cp.new_bool_var(f"{before.id} then {job.id} on {name}")
                arcs.append((node[before.id], node[job.id], lit))
                after = model.end[before.id] + gap + self.wash_min(job)
                cp.add(model.start[job.id] >= after).only_enforce_if(lit)
                self._from(lit, before.place, job)
                for product, into in carried.items():
                    if product in before.puts:
                        cp.add_implication(lit, into[job.id])
                    else:
                        washed = self.washed[name, before.id]
                        cp.add_bool_or([lit.negated(), into[before.id].negated(), washed, into[job.id]])
        cp.add_circuit(arcs)

    def _from(self, lit: Literal, place: str, job: Job) -> None:
        if place != job.place:
            self.cp.add_implication(lit, self.fetched[job.id, place])

    def _carried(self, machine: Machine, own: Sequence[Job]) -> dict[str, dict[str, Literal]]:
        """For each product that would spoil a job: whether it is in the tank on the way to a job."""
        if machine.wash_min is None:
            return {}
        inside = set(machine.carries).union(*(job.puts for job in own))
        found: dict[str, dict[str, Literal]] = {}
        for product in sorted(inside.intersection(set().union(*(job.spoiled_by for job in own)))):
            found[product] = {
                job.id: self.cp.new_bool_var(f"{product} in {machine.id} on the way to {job.id}") for job in own
            }
            for job in own:
                if product in job.spoiled_by:
                    self.cp.add_bool_or(
                        [
                            self.uses[machine.id, job.id].negated(),
                            found[product][job.id].negated(),
                            self.washed[machine.id, job.id],
                        ]
                    )
        return found

    def _fetching(self, job: Job) -> None:
        """Who brings and washes: one of the crew, by way of where the machines stand, from whatever came before."""
        cp, model, name = self.cp, self.model, job.id
        roads = self.problem.roads
        crew = model.crew[name]
        for shift in crew:
            lit = self.brings[shift.id, name] = cp.new_bool_var(f"{shift.id} brings for {name}")
            cp.add_implication(lit, model.on[shift.id, name])
            if not self.problem.person(shift.person).hauls:
                cp.add_implication(lit, self.stays[name])
        every = [self.brings[shift.id, name] for shift in crew]
        cp.add(sum(every) <= 1)
        for (j, _), lit in sorted(self.fetched.items()):
            if j == name:
                cp.add_bool_or([*every, lit.negated()])
        for (_, j), lit in sorted(self.washed.items()):
            if j == name:
                cp.add_bool_or([*every, lit.negated()])

        def trip(start: str) -> Expr:
            ways = [roads.fetch(start, place, job.place) * lit for (j, place), lit in self.fetched.items() if j == name]
            return sum(ways) + roads.drive(start, job.place) * self.stays[name] + self.wash_min(job)

        follows: dict[str, Literal] = {}
        for shift in crew:
            lit = self.brings[shift.id, name]
            leaves = shift.start - model.zero
            cp.add(model.start[name] >= leaves + trip(shift.begins_at)).only_enforce_if(lit)
            for other in model.by_shift[shift.id]:
                if other is job or (other.id, name) not in model.first:
                    continue
                if other.id not in follows:
                    after = follows[other.id] = cp.new_bool_var(f"{name} fetched after {other.id}")
                    cp.add(model.start[name] >= model.end[other.id] + trip(other.place)).only_enforce_if(after)
                cp.add_bool_or(
                    [
                        lit.negated(),
                        model.on[shift.id, other.id].negated(),
                        model.first[other.id, name].negated(),
                        follows[other.id],
                    ]
                )
