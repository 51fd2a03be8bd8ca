"""Add, change and remove prerequisites. Every write locks the holding's graph first, so that no two together can close
a circle that neither closes alone."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from core.errors import NotFound, Refused
from core.models import Person
from core.services.facts import ALL, lock_graph, touch
from core.services.rows import log, remove_row, reread, save_row, sentence_of
from jobs.amounts import amount, span
from jobs.graph.cycles import FixedContradiction, find_cycle, path_between
from jobs.graph.data import Arc, Fixed, Relation
from jobs.graph.soundness import contradiction
from jobs.models import Branch, Job, LagUnit, Prerequisite
from jobs.services.components import MOST, UNLABELLED, batched, merge, relabel

MINUTES: dict[str, int] = {LagUnit.HOURS: 60, LagUnit.DAYS: 1440}
ENDS = ("predecessor_id", "successor_id")
NAMED = ("predecessor", "successor", "relation", "min_amount", "min_unit", "max_amount", "max_unit")


def add_link(*, link: Prerequisite, by: Person | None) -> Prerequisite:
    """Store a new prerequisite of `link.holding`.

    Raises:
        NotFound: a job is not in the holding.
        Refused: a job before itself (`itself`), listed already or out of bounds (`invalid`), between siblings
            (`siblings`), a circle (`cycle`), or fixed lags that contradict each other (`contradiction`).
    """
    with transaction.atomic():
        lock_graph(link.holding_id)
        jobs = _ends(link.holding_id, [link])
        _check(link.holding_id, jobs, [link])
        save_row(row=link, by=by, fields=NAMED)
        labels = [jobs[end].component for end in (link.predecessor_id, link.successor_id)]
        if UNLABELLED in labels:
            relabel(holding_id=link.holding_id, components=labels)
        else:
            merge(holding_id=link.holding_id, first=labels[0], second=labels[1])
    return link


def change_link(*, link: Prerequisite, by: Person | None, fields: Iterable[str], because: str = "") -> Prerequisite:
    """Store the named `fields` of a prerequisite, its jobs perhaps among them. `because` is said where the program does
    it by itself: without it the change counts as somebody's word, which no later season takes back.

    Raises:
        NotFound, Refused: as `add_link`; NotFound also where the prerequisite is gone.
    """
    named = list(fields)
    with transaction.atomic():
        before = reread(link, named)
        assert isinstance(before, Prerequisite)
        jobs = _ends(link.holding_id, [link, before])
        _check(link.holding_id, jobs, [link])
        save_row(row=link, by=by, fields=named, noted={"because": because} if because else None)
        if any(getattr(link, end) != getattr(before, end) for end in ENDS):
            log(holding_id=link.holding_id, by=by, verb="removed", row=link, change=told_ends(before))
            relabel(holding_id=link.holding_id, components={job.component for job in jobs.values()})
    return link


def told_ends(link: Prerequisite) -> dict[str, Any]:
    """What the log keeps of a prerequisite that is gone: no later season ties these two again."""
    return {"predecessor": link.predecessor_id, "successor": link.successor_id, "relation": link.relation}


def remove_link(*, link: Prerequisite, by: Person | None, because: str = "") -> None:
    """Delete a prerequisite; what hung together by it alone is walked apart from now on. `because` as in `change_link`.

    Raises:
        NotFound: it is gone already.
    """
    with transaction.atomic():
        lock_graph(link.holding_id)
        stored = Prerequisite.objects.filter(pk=link.pk, holding_id=link.holding_id)
        label = stored.values_list("predecessor__component", flat=True).first()
        if label is None:
            raise NotFound("This prerequisite is gone.")
        remove_row(row=link, by=by, noted={"because": because} if because else told_ends(link))
        relabel(holding_id=link.holding_id, components=[label])


def add_links(*, holding_id: int, links: Sequence[Prerequisite], by: Person | None) -> list[Prerequisite]:
    """Store many new prerequisites at once or none of them, and label the jobs they tie; linear in what they touch.

    For sequences and imports. New jobs without links or branches are labelled too.

    Raises:
        NotFound, Refused: as `add_link`; the facts of a refusal name the place in `links` where one is to blame.
    """
    with transaction.atomic():
        lock_graph(holding_id)
        jobs = _ends(holding_id, links)
        for place, link in enumerate(links):
            if link.holding_id != holding_id:
                raise NotFound("A prerequisite of another holding is among them.", place=place)
            try:
                link.clean_fields(exclude=["holding", "predecessor", "successor"])
            except ValidationError as error:
                field, sentence = sentence_of(error)
                raise Refused(sentence, code="invalid", field=field, place=place) from error
        _check(holding_id, jobs, links)
        try:
            with transaction.atomic():
                made = Prerequisite.objects.bulk_create(links, batch_size=MOST)
        except IntegrityError as error:
            raise Refused(sentence_of(error)[1], code="invalid") from error
        relabel(holding_id=holding_id, components={UNLABELLED, *(job.component for job in jobs.values())})
        if made:
            log(holding_id=holding_id, by=by, verb="added", row=made[0], change={"prerequisites": len(made)})
        touch(holding_id, [ALL] if len(jobs) > MOST else [f"job:{job}" for job in jobs])
    return made


def _ends(holding_id: int, links: Sequence[Prerequisite]) -> dict[int, Job]:
    wanted = {getattr(link, end): end.removesuffix("_id") for link in links for end in ENDS}
    found: dict[int, Job] = {}
    for some in batched([job for job in wanted if job is not None], MOST):
        rows = Job.objects.filter(holding_id=holding_id, pk__in=some).only("id", "title", "component")
        found.update({job.pk: job for job in rows})
    for job, field in wanted.items():
        if job not in found:
            raise NotFound(f"{field.capitalize()} {job} is not in this holding.", field=field)
    return found


def _check(holding_id: int, jobs: Mapping[int, Job], new: Sequence[Prerequisite]) -> None:
    """Refuse links that cannot be, with the jobs' names."""
    for place, link in enumerate(new):
        if link.predecessor_id == link.successor_id:
            name = jobs[link.predecessor_id].title
            raise Refused(f"A job cannot come before itself: {name}.", code="itself", place=place)
    times = Counter((link.predecessor_id, link.successor_id, link.relation) for link in new)
    for place, link in enumerate(new):
        if times[link.predecessor_id, link.successor_id, link.relation] > 1:
            raise Refused("This prerequisite is listed twice.", code="invalid", place=place)

    labels = {jobs[end].component for link in new for end in (link.predecessor_id, link.successor_id)}
    alone = len(new) == 1 and len(labels) == 2
    rest = [] if alone else _links_of(holding_id, labels, but={link.pk for link in new})
    links = [*rest, *new]
    edges = [_pair(link) for link in links]
    found = path_between(edges, *reversed(_pair(new[0]))) if len(new) == 1 else find_cycle(edges)
    if found is not None:
        lowest = found.index(min(found))
        found = found[lowest:] + found[:lowest]
        names = _titles([*found, found[0]])
        raise Refused(
            f"These jobs would wait for each other: {names}. Remove one of the links.", code="cycle", jobs=found
        )

    choices = _choices(holding_id, labels)
    for place, link in enumerate(new):
        first, then = choices.get(link.predecessor_id, {}), choices.get(link.successor_id, {})
        if any(then.get(group, branch) != branch for group, branch in first.items()):
            names = _titles(_pair(link))
            raise Refused(
                f"Only one of these is ever done, so neither waits for the other: {names}.",
                code="siblings",
                place=place,
            )
    _check_lags(holding_id, labels, links, choices)


def check_durations(job: Job) -> None:
    """Refuse a duration, stored already in this transaction, by which the fixed lags around the job contradict.

    Raises:
        Refused: they do (`contradiction`).
    """
    labels = {Job.objects.values_list("component", flat=True).get(pk=job.pk)}
    links = _links_of(job.holding_id, labels, but=())
    _check_lags(job.holding_id, labels, links, _choices(job.holding_id, labels))


def _check_lags(
    holding_id: int, labels: Collection[int], links: Sequence[Prerequisite], choices: Mapping[int, Mapping[str, int]]
) -> None:
    if any(link.max_unit in MINUTES for link in links):
        known = Job.objects.filter(holding_id=holding_id, component__in=labels)
        arcs = [_arc(number, link) for number, link in enumerate(links)]
        clash = contradiction(arcs, dict(known.values_list("id", "duration_min")), choices)
        if clash is not None:
            raise Refused(
                _contradiction_sentence(clash, links), code="contradiction", jobs=clash.jobs, over_minutes=clash.over
            )


def _pair(link: Prerequisite) -> tuple[int, int]:
    return link.predecessor_id, link.successor_id


def _links_of(holding_id: int, labels: Collection[int], but: Collection[int | None]) -> list[Prerequisite]:
    """The links inside these components. Both ends of a link have one component, so one end finds it."""
    if len(labels) > MOST:
        links = Prerequisite.objects.filter(holding_id=holding_id)
    else:  # without the holding in the condition, by which SQLite would read the whole of it
        links = Prerequisite.objects.filter(successor__component__in=labels)
    return [link for link in links.order_by("id") if link.holding_id == holding_id and link.pk not in but]


def _choices(holding_id: int, labels: Collection[int]) -> dict[int, dict[str, int]]:
    """For each job in branches of these components: the branch it is in, by group, through all that it is nested in.

    Branches that one job opens by its outcome are a group as well."""
    jobs = Job.objects.filter(holding_id=holding_id)
    if len(labels) <= MOST:
        jobs = jobs.filter(component__in=labels)
    by_branch: dict[int, list[int]] = defaultdict(list)
    for job, branch in jobs.order_by("id").values_list("id", "branch_id"):
        if branch is not None:
            by_branch[branch].append(job)
    branches: dict[int, Branch] = {}
    wanted = set(by_branch)
    while wanted:
        for some in batched(sorted(wanted), MOST):
            branches.update(Branch.objects.in_bulk(some))
        wanted = {row.parent_id for row in branches.values() if row.parent_id is not None} - branches.keys()
    found: dict[int, dict[str, int]] = {}
    for own, members in by_branch.items():
        groups: dict[str, int] = {}
        at: int | None = own
        while at is not None:
            row = branches[at]
            if row.group:
                groups[f"{row.season_id}:{row.group}"] = at
            elif row.opened_by_id is not None:
                groups[f"after {row.opened_by_id}"] = at
            at = row.parent_id
        found.update(dict.fromkeys(members, groups))
    return found


def _arc(number: int, link: Prerequisite) -> Arc:
    """Lower bounds round up to whole minutes, upper bounds down; lags of weather have no fixed length."""
    minimum = maximum = None
    if link.min_unit in MINUTES:
        minimum = Fixed(math.ceil(link.min_amount * MINUTES[link.min_unit]))
    if link.max_unit in MINUTES and link.max_amount is not None:
        maximum = Fixed(math.floor(link.max_amount * MINUTES[link.max_unit]))
    return Arc(number, *_pair(link), Relation(link.relation), minimum, maximum, confirm=bool(link.confirm))


def _titles(jobs: Sequence[int]) -> str:
    """Titles joined by arrows, with their plots where these differ."""
    rows = {pk: names for pk, *names in Job.objects.filter(pk__in=jobs).values_list("id", "title", "plot__name")}
    several = len({plot for _, plot in rows.values()}) > 1
    return " -> ".join(f"{rows[job][0]} ({rows[job][1]})" if several else rows[job][0] for job in jobs)


def _contradiction_sentence(clash: FixedContradiction, links: Sequence[Prerequisite]) -> str:
    waits = []
    for step in sorted(clash.steps, key=lambda step: step.maximum):
        link = links[step.arc]
        at_most = f"at most {amount(link.max_amount or 0.0, link.max_unit)}"
        at_least = f"at least {amount(link.min_amount, link.min_unit)}"
        waits.append(f"{_titles(_pair(link))} {at_most if step.maximum else at_least}")
    needed = sum(step.minutes for step in clash.steps if not step.maximum)
    return (
        f"These waits contradict each other: {', '.join(waits)}. From start to start, with the work between, the"
        f" minima need {span(needed)} and the maxima allow {span(needed - clash.over)}. Change one of them."
    )
