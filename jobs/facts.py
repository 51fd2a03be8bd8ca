"""Plain facts beside the graph that holds read: closures, consents, machines, materials, skills. Whole minutes, UTC."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from jobs.folding import Part, Trouble
from jobs.graph.data import FAR, NEG, Problem


@dataclass(frozen=True, slots=True)
class Closure:
    """A stretch [first, last) in which a job may not be done. `kind`: contract, quiet, ban or tenure."""

    kind: str
    id: int
    first: int
    last: int
    reason: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class ConsentFact:
    """Whose yes the job needs. Given from `since` on until `until`; `since` None means not given."""

    id: int
    whose: str
    since: int | None
    until: int | None


@dataclass(frozen=True, slots=True)
class MachineFact:
    """A machine of a needed kind. It works from `from_minute` (None: down or away without a date) to `to_minute`."""

    id: int
    from_minute: int | None
    to_minute: int | None = None
    state: str = "works"


@dataclass(frozen=True, slots=True)
class MachineNeed:
    """One kind of machine and those the holding has of it; none listed holds nothing, somebody hired may bring it."""

    name: str
    machines: tuple[MachineFact, ...]


@dataclass(frozen=True, slots=True)
class MaterialNeed:
    """A chosen material, what the rest of the job needs of it and what is in stock (None: stock was never counted)."""

    id: int
    needed: float
    stock: float | None


@dataclass(frozen=True, slots=True)
class SkillNeed:
    """A skill and the instants between which somebody active holds it: [from, to), to None without end."""

    name: str
    held: tuple[tuple[int, int | None], ...]


@dataclass(frozen=True, slots=True)
class SprayedBefore:
    """An active ingredient that was sprayed on the plot and closes the job until `until` (None: for this season)."""

    active: str
    at: int
    until: int | None
    source: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Bound:
    """A rule of label, law, contract or safety that holds the job in [first, last).

    It clears by a report (of kind `report`, on job `job`), else by the word of `who`, else at `last`."""

    kind: str
    rule: str
    first: int = NEG
    last: int = FAR
    source: str = ""
    report: str = ""
    job: int | None = None
    who: str = ""
    inputs: Mapping[str, Any] = field(default_factory=dict)


@dataclass(slots=True, unsafe_hash=True)
class JobFacts:
    """What holds need to know of one job beside its node: its days [first, last), closures, people and things.

    `changes` are further instants at which these facts change by themselves (the end of an override). Where "label" is
    overridden, that speaks of sprays until `label_until` alone."""

    id: int
    operation: str = ""
    first: int | None = None
    last: int | None = None
    closures: tuple[Closure, ...] = ()
    consents: tuple[ConsentFact, ...] = ()
    machines: tuple[MachineNeed, ...] = ()
    materials: tuple[MaterialNeed, ...] = ()
    skills: tuple[SkillNeed, ...] = ()
    trouble: Trouble | None = None
    trouble_clears: int | None = None
    overridden: frozenset[str] = frozenset()
    changes: tuple[int, ...] = ()
    sprayed: tuple[SprayedBefore, ...] = ()
    acres: float | None = None
    acres_done: float = 0.0
    parts: tuple[Part, ...] = ()
    dates_source: str = ""
    bounds: tuple[Bound, ...] = ()
    label_until: int = FAR


@dataclass(frozen=True, slots=True)
class Facts:
    """All that one walk reads: the graph's problem, the facts of its jobs by id, and the links' sources by arc id.

    `next_midnight` is the end of the holding's local day. By arc id: `sources` of the links; `again`, the instant from
    which to look once more after a look in vain; `upper`, the upper figure of a published range of degree days where
    the link waits for the lower."""

    problem: Problem
    jobs: Mapping[int, JobFacts]
    next_midnight: int
    sources: Mapping[int, str] = field(default_factory=dict)
    again: Mapping[int, int] = field(default_factory=dict)
    upper: Mapping[int, int] = field(default_factory=dict)
