"""The answer of the batch: dates in columns, made into `Dates` where somebody asks for them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from jobs.graph.batch.copies import Alternatives, Instances
from jobs.graph.batch.lags import Ints, saturate
from jobs.graph.batch.passes import Bools
from jobs.graph.batch.reasons import ARC, CAUSES
from jobs.graph.choices import NO_REASON
from jobs.graph.data import FAR, NEG, Dates, Why
from jobs.graph.network import Role

_WHYS = tuple(Why(cause) for cause in CAUSES)


class Answer(Mapping[int, Dates]):
    """Dates by job id, in the order of ids; a job's `Dates` are made when they are first asked for.

    `whole` are those that were reckoned by themselves."""

    def __init__(self, columns: dict[str, Ints], arcs: Ints, asides: Asides, whole: Mapping[int, Dates]) -> None:
        self.columns, self.arcs, self.asides, self.whole = columns, arcs, asides, whole
        self._made: dict[int, Dates] = dict(whole)
        self._rows: list[list[int]] | None = None
        self._places: dict[int, int] = {}

    def __len__(self) -> int:
        return len(self.columns["job"])

    def __iter__(self) -> Iterator[int]:
        return iter(self.columns["job"].tolist())

    def __contains__(self, job: object) -> bool:
        self._open()
        return job in self._places

    def __getitem__(self, job: int) -> Dates:
        found = self._made.get(job)
        if found is None:
            rows = self._open()
            place = self._places[job]
            found = self._made[job] = self._dates(place, tuple(row[place] for row in rows))
        return found

    def all(self) -> dict[int, Dates]:
        """The dates of every job, for those who ask for all of them."""
        made = self._made
        for place, row in enumerate(zip(*self._open(), strict=True)):
            if row[0] not in made:
                made[row[0]] = self._dates(place, row)
        return {job: made[job] for job in self}

    def _open(self) -> list[list[int]]:
        if self._rows is None:
            self._rows = [column.tolist() for column in self.columns.values()]
            self._arcs = self.arcs.tolist()
            self._places = {job: place for place, job in enumerate(self._rows[0])}
        return self._rows

    def _dates(self, place: int, row: tuple[int, ...]) -> Dates:
        job, there, es, ef, ls, lf, slack, critical, cause, arc, late_cause, late_arc, last_chance, reference = row
        conflict = place in self.asides.conflicts
        if not there:
            return Dates(
                job, FAR, FAR, FAR, FAR, FAR, False, NO_REASON, NO_REASON, FAR, conflict=conflict, on_reference=False
            )
        return Dates(
            job,
            es,
            ef,
            ls,
            lf,
            slack,
            bool(critical),
            Why(CAUSES[ARC], self._arcs[arc]) if cause == ARC else _WHYS[cause],
            Why(CAUSES[ARC], self._arcs[late_arc]) if late_cause == ARC else _WHYS[late_cause],
            last_chance,
            conflict=conflict,
            out_of_order=tuple(self.asides.out_of_order.get(place, ())),
            on_reference=bool(reference),
        )


class Asides:
    """What few jobs have, by place: a conflict, and ids of arcs out of order."""

    def __init__(self, conflicts: set[int], out_of_order: Mapping[int, list[int]]) -> None:
        self.conflicts, self.out_of_order = conflicts, out_of_order


def references(here: Instances, choices: Alternatives, es: Ints, ls: Ints) -> Ints:
    """By component the number of its reference copy: the first in which neither a job of its branch nor a successor of
    one has lapsed, else the first."""
    table = here.table
    found = np.zeros(len(choices.copies), np.int64)
    if not choices.candidates:
        return found
    lapsed = (here.role == Role.OPEN) & (ls < es)
    branch = choices.of_job[here.job]
    late = np.zeros(len(choices.place), bool)
    late[branch[lapsed & (branch >= 0)]] = True
    tail_branch = choices.of_job[table.tail]
    arcs = np.flatnonzero((tail_branch >= 0) & (here.copies[table.component[table.head]] > 1))
    index, number = here.copies_of(table.tail[arcs], table.head[arcs])
    arcs = arcs[index]
    mine = number == choices.home[table.tail[arcs]]
    arcs, number = arcs[mine], number[mine]
    late[tail_branch[arcs[lapsed[here.instance(table.head[arcs], number)]]]] = True
    passed = late.tolist()
    for component, branches in choices.candidates.items():
        if passed[branches[0]]:
            found[component] = next((k for k, b in enumerate(branches) if not passed[b]), 0)
    return found


def gather(
    here: Instances, choices: Alternatives, es: Ints, ls: Ints, early: Sequence[Ints], late: Sequence[Ints]
) -> dict[str, Ints]:
    """Columns of the answer by place of job; `early` and `late` are (cause, place of the arc) of each instance."""
    table, job = here.table, here.job
    reference = references(here, choices, es, ls)[table.component]
    unfinished = (here.role == Role.OPEN) | (here.role == Role.UNDER_WAY)
    slack = np.where(ls >= FAR, FAR, np.where((ls <= NEG) | (es >= FAR), NEG, saturate(ls - es)))
    home = choices.home
    number = np.where(home >= 0, home, reference)
    there = here.times > 0
    taken = here.instance_or_end(there, number)
    last_chance = np.full(table.count, NEG - 1)
    np.maximum.at(last_chance, job, ls)

    def of(values: Ints) -> Ints:
        return np.append(values, 0)[taken]  # one more for the jobs that are not there, of which nobody reads it

    start, latest = of(es), of(ls)
    return {
        "job": table.job,
        "there": there,
        "es": start,
        "ef": np.where(table.role > Role.RELAY, table.finish, saturate(start + table.duration)),
        "ls": latest,
        "lf": saturate(latest + table.duration),
        "slack": of(slack),
        "critical": of(_critical(here, slack, unfinished)),
        "cause": of(early[0]),
        "arc": of(early[1]),
        "late_cause": of(late[0]),
        "late_arc": of(late[1]),
        "last_chance": last_chance,
        "reference": number == reference,
    }


def _critical(here: Instances, slack: Ints, unfinished: Bools) -> Ints:
    """Whether an unfinished instance has the least finite slack of its season in its copy."""
    some = np.flatnonzero(unfinished & (slack > NEG) & (slack < FAR))
    found = np.zeros(len(slack), np.int64)
    if not len(some):
        return found
    season, key, slack = here.table.season[here.job[some]], here.copy[some], slack[some]
    seasons = np.zeros(int(key.max()) + 1, np.int64)
    seasons[key] = season
    if (seasons[key] != season).any():  # a copy with several seasons
        season = season - season.min()
        key = np.unique(key * (int(season.max()) + 1) + season, return_inverse=True)[1]
    least = np.full(int(key.max()) + 1, FAR)
    np.minimum.at(least, key, slack)
    found[some] = slack == least[key]
    return found
