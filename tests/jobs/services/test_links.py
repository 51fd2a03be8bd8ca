"""Prerequisites: what is refused and in which words, and that components follow every write."""

from collections.abc import Callable
from datetime import date
from itertools import pairwise
from random import Random

import networkx as nx
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from core.clock import now_at
from core.errors import NotFound, Refused
from core.models import Event, Graph, Holding, Person, Touched
from core.services.rows import remove_row
from jobs.graph.components import connected_components, ties
from jobs.models import Branch, Job, Prerequisite, Season
from jobs.selectors.facts import load
from jobs.services.components import relabel
from jobs.services.links import add_link, add_links, change_link, remove_link
from jobs.services.single import change_job
from jobs.services.walking import differences, walk_holding
from plots.models import Plot

JobFactory = Callable[..., Job]


def link(first: Job, then: Job, **fields: object) -> Prerequisite:
    return Prerequisite(holding=first.holding, predecessor=first, successor=then, **fields)


def labels(holding: Holding) -> dict[int, int]:
    return dict(Job.objects.filter(holding=holding).values_list("id", "component"))


def season_on(job: Job, label: str = "2027") -> Season:
    return Season.objects.create(
        holding=job.holding, plot=job.plot, label=label, year=2027,
        first_day=date(2027, 3, 1), last_day=date(2027, 10, 31),
    )  # fmt: skip


def test_a_circle_is_refused_with_the_names_of_its_jobs(holding: Holding, job_factory: JobFactory) -> None:
    spray, till, plant = (job_factory(holding, title) for title in ("Spray the clover", "Till", "Plant"))
    add_link(link=link(spray, till), by=None)
    add_link(link=link(till, plant), by=None)
    with pytest.raises(Refused) as refusal:
        add_link(link=link(till, spray), by=None)
    assert "Spray the clover -> Till -> Spray the clover" in refusal.value.sentence
    assert refusal.value.code == "cycle"
    assert refusal.value.facts["jobs"] == [spray.pk, till.pk]
    assert Prerequisite.objects.count() == 2


def test_a_circle_over_plots_names_the_plots(
    holding: Holding, job_factory: JobFactory, plot_factory: Callable[..., object]
) -> None:
    lime = job_factory(holding, "Lime", plot=plot_factory(holding, name="Creek field"))
    mow = job_factory(holding, "Mow", plot=plot_factory(holding, name="Hill"))
    add_link(link=link(lime, mow), by=None)
    with pytest.raises(Refused, match=r"Lime \(Creek field\) -> Mow \(Hill\) -> Lime \(Creek field\)"):
        add_link(link=link(mow, lime), by=None)


def test_a_circle_is_one_whatever_the_relation(holding: Holding, job_factory: JobFactory) -> None:
    first, second = job_factory(holding, "Mow"), job_factory(holding, "Rake")
    add_link(link=link(first, second, relation="SS"), by=None)
    with pytest.raises(Refused, match="Mow -> Rake -> Mow"):
        add_link(link=link(second, first, relation="FF"), by=None)


def test_a_job_is_not_its_own_prerequisite(holding: Holding, job_factory: JobFactory) -> None:
    job = job_factory(holding, "Till")
    with pytest.raises(Refused, match="A job cannot come before itself: Till"):
        add_link(link=link(job, job), by=None)


def test_the_same_prerequisite_is_not_listed_twice(holding: Holding, job_factory: JobFactory) -> None:
    first, second = job_factory(holding), job_factory(holding)
    add_link(link=link(first, second), by=None)
    with pytest.raises(Refused, match="This prerequisite is listed already"):
        add_link(link=link(first, second), by=None)
    with pytest.raises(Refused, match="This prerequisite is listed already"):
        add_links(holding_id=holding.pk, links=[link(first, second)], by=None)
    third = job_factory(holding)
    with pytest.raises(Refused, match="listed twice"):
        add_links(holding_id=holding.pk, links=[link(first, third), link(first, third)], by=None)
    assert Prerequisite.objects.count() == 1


def test_somebody_else_s_job_does_not_exist(holding: Holding, other_holding: Holding, job_factory: JobFactory) -> None:
    ours, theirs = job_factory(holding), job_factory(other_holding)
    with pytest.raises(NotFound, match=f"Successor {theirs.pk} is not in this holding"):
        add_link(link=link(ours, theirs), by=None)
    with pytest.raises(NotFound):
        add_links(holding_id=holding.pk, links=[link(ours, theirs)], by=None)
    foreign = add_link(link=link(theirs, job_factory(other_holding)), by=None)
    with pytest.raises(NotFound):
        add_links(holding_id=holding.pk, links=[link(theirs, theirs)], by=None)
    foreign.holding = holding
    with pytest.raises(NotFound):
        remove_link(link=foreign, by=None)


def test_waits_that_no_dates_can_meet_are_refused_with_names_and_sums(
    holding: Holding, job_factory: JobFactory
) -> None:
    spray, burn, plant = (job_factory(holding, title, duration_min=120) for title in ("Spray", "Burn", "Plant"))
    add_link(link=link(spray, burn, min_amount=10), by=None)
    add_link(link=link(burn, plant, min_amount=6), by=None)
    with pytest.raises(Refused) as refusal:
        add_link(link=link(spray, plant, max_amount=14, max_unit="days"), by=None)
    assert refusal.value.code == "contradiction"
    for words in (
        "Spray -> Burn at least 10 days",
        "Burn -> Plant at least 6 days",
        "Spray -> Plant at most 14 days",
        "minima need 16 days 4 h and the maxima allow 14 days 2 h",
    ):
        assert words in refusal.value.sentence
    add_link(link=link(spray, plant, max_amount=17, max_unit="days"), by=None)
    tight = Prerequisite.objects.get(max_unit="days")
    tight.max_amount = 15
    with pytest.raises(Refused, match="contradict"):
        change_link(link=tight, by=None, fields=["max_amount"])


def test_a_minimum_in_days_above_its_maximum_in_hours_is_a_contradiction(
    holding: Holding, job_factory: JobFactory
) -> None:
    first, second = job_factory(holding, "Spray"), job_factory(holding, "Rain")
    with pytest.raises(Refused, match="Spray -> Rain at least 2 days, Spray -> Rain at most 24 h"):
        add_link(link=link(first, second, min_amount=2, max_amount=24, max_unit="hours"), by=None)


def test_a_duration_by_which_fixed_waits_contradict_is_refused(holding: Holding, job_factory: JobFactory) -> None:
    spray, burn, plant = (job_factory(holding, title, duration_min=120) for title in ("Spray", "Burn", "Plant"))
    add_link(link=link(spray, burn), by=None)
    add_link(link=link(burn, plant), by=None)
    add_link(link=link(spray, plant, max_amount=1, max_unit="days"), by=None)
    burn.duration_min = 1440
    change_job(job=burn, by=None, fields=["duration_min"])
    burn.duration_min = 1441
    with pytest.raises(Refused, match=r"Spray -> Plant at most 1 day.* minima need 1 day 2 h 1 min") as refusal:
        change_job(job=burn, by=None, fields=["duration_min"])
    assert refusal.value.code == "contradiction"
    burn.refresh_from_db()
    assert (burn.duration_min, burn.version) == (1440, 2)


def test_lags_of_weather_are_no_contradiction(holding: Holding, job_factory: JobFactory) -> None:
    plant, fence = job_factory(holding, "Plant"), job_factory(holding, "Fence")
    wait = link(
        plant, fence, min_amount=120, min_unit="degree_days", degree_days="86/50", max_amount=1, max_unit="days"
    )
    add_link(link=wait, by=None)
    assert Prerequisite.objects.get() == wait


def test_siblings_do_not_wait_for_each_other(holding: Holding, job_factory: JobFactory) -> None:
    season = season_on(job_factory(holding, "Check"))
    burn, mow = (
        job_factory(holding, key, season=season, branch=Branch.objects.create(
            holding=holding, season=season, key=key, group="residue"
        )) for key in ("burn", "mow")
    )  # fmt: skip
    with pytest.raises(Refused, match="Only one of these is ever done, so neither waits for the other: burn -> mow"):
        add_link(link=link(burn, mow), by=None)


def test_a_long_way_through_one_sibling_does_not_contradict_a_short_one_through_the_other(
    holding: Holding, job_factory: JobFactory
) -> None:
    spray, plant = job_factory(holding, "Spray"), job_factory(holding, "Plant")
    season = season_on(spray)
    for key, days in (("burn", 10), ("mow", 3)):
        branch = Branch.objects.create(holding=holding, season=season, key=key, group="residue")
        job = job_factory(holding, key, season=season, branch=branch)
        fields = {"max_amount": 5, "max_unit": "days"} if key == "mow" else {}
        add_links(
            holding_id=holding.pk,
            links=[link(spray, job, min_amount=days), link(job, plant, **fields)],
            by=None,
        )
    relabel(holding_id=holding.pk)
    add_link(link=link(spray, plant, max_amount=12, max_unit="days"), by=None)
    with pytest.raises(Refused, match="Spray -> burn at least 10 days"):
        add_link(link=link(spray, plant, relation="SS", max_amount=9, max_unit="days"), by=None)


def test_a_refused_batch_stores_nothing_and_says_which(holding: Holding, job_factory: JobFactory) -> None:
    first, second, third = (job_factory(holding, title) for title in ("Mow", "Spray", "Till"))
    with pytest.raises(Refused, match="Mow -> Spray -> Till -> Mow"):
        add_links(holding_id=holding.pk, links=[link(first, second), link(second, third), link(third, first)], by=None)
    with pytest.raises(Refused) as refusal:
        add_links(holding_id=holding.pk, links=[link(first, second), link(first, third, relation="XX")], by=None)
    assert refusal.value.facts["place"] == 1
    with pytest.raises(Refused, match="The maximum wait is shorter than the minimum"):
        add_links(
            holding_id=holding.pk,
            links=[link(first, second, min_amount=3, min_unit="rain_in", max_amount=2, max_unit="rain_in")],
            by=None,
        )
    assert not Prerequisite.objects.exists()


def test_every_write_wakes_the_walk_for_both_ends_and_is_logged(
    holding: Holding, manager: Person, job_factory: JobFactory
) -> None:
    first, second, third = (job_factory(holding) for _ in range(3))

    def woken() -> set[str]:
        keys = set(Touched.objects.filter(holding=holding).values_list("key", flat=True))
        Touched.objects.all().delete()
        return keys

    version = Graph.objects.get(holding=holding).facts_version
    made = add_link(link=link(first, second), by=manager)
    assert woken() == {f"job:{first.pk}", f"job:{second.pk}"}
    made.successor = third
    change_link(link=made, by=manager, fields=["successor"])
    assert woken() == {f"job:{job.pk}" for job in (first, second, third)}
    remove_link(link=made, by=manager)
    assert woken() == {f"job:{first.pk}", f"job:{third.pk}"}
    add_links(holding_id=holding.pk, links=[link(first, second), link(second, third)], by=manager)
    assert woken() == {f"job:{job.pk}" for job in (first, second, third)}
    assert Graph.objects.get(holding=holding).facts_version == version + 4
    verbs = list(Event.objects.order_by("id").values_list("verb", flat=True))
    assert verbs == ["added", "changed", "removed", "removed", "added"], "a moved link leaves its old ends"


def test_a_removed_link_parts_what_hung_together_by_it_alone(holding: Holding, job_factory: JobFactory) -> None:
    first, second, third = (job_factory(holding) for _ in range(3))
    add_link(link=link(second, third), by=None)
    bridge = add_link(link=link(second, first), by=None)
    assert set(labels(holding).values()) == {first.pk}
    remove_link(link=bridge, by=None)
    assert labels(holding) == {first.pk: first.pk, second.pk: second.pk, third.pk: second.pk}
    with pytest.raises(NotFound, match="gone"):
        remove_link(link=bridge, by=None)


def test_new_jobs_are_labelled_with_the_links_that_tie_them(holding: Holding, job_factory: JobFactory) -> None:
    old = job_factory(holding)
    new = [job_factory(holding, component=0) for _ in range(3)]
    add_links(holding_id=holding.pk, links=[link(old, new[1])], by=None)
    assert labels(holding) == {old.pk: old.pk, new[0].pk: new[0].pk, new[1].pk: old.pk, new[2].pk: new[2].pk}


def tied(holding: Holding) -> dict[int, int]:
    """The smallest job of each connected component, by networkx from the rows alone."""
    graph = nx.Graph()
    graph.add_nodes_from(Job.objects.filter(holding=holding).values_list("id", flat=True))
    graph.add_edges_from(Prerequisite.objects.filter(holding=holding).values_list("predecessor_id", "successor_id"))
    graph.add_edges_from(
        (job.pk, f"branch {job.branch_id}") for job in Job.objects.filter(holding=holding, branch__isnull=False)
    )
    for branch in Branch.objects.filter(holding=holding):
        own = f"branch {branch.pk}"
        if branch.group:
            graph.add_edge(own, f"group {branch.season_id} {branch.group}")
        if branch.opened_by_id:
            graph.add_edge(own, branch.opened_by_id)
        if branch.parent_id:
            graph.add_edge(own, f"branch {branch.parent_id}")
    found = {}
    for part in nx.connected_components(graph):
        jobs = [job for job in part if isinstance(job, int)]
        found.update({job: min(jobs) for job in jobs})
    return found


def seen_by_the_walk(holding: Holding) -> dict[int, int]:
    """The same from what a walk reads, by the ties of the graph."""
    problem = load(holding, now_at(holding)).facts.problem
    jobs = [node.id for node in problem.nodes]
    return connected_components(jobs, ties(problem.nodes, problem.arcs, problem.branches))


@pytest.mark.parametrize("seed", range(6))
def test_labels_are_the_connected_components_after_any_writes(
    seed: int, holding: Holding, job_factory: JobFactory
) -> None:
    chance = Random(seed)
    jobs = [job_factory(holding, f"Work {number}") for number in range(14)]
    season = season_on(jobs[0])
    trunk = Branch.objects.create(holding=holding, season=season, key="stand", opened_by=jobs[2])
    pair = [
        Branch.objects.create(holding=holding, season=season, key=key, group="replant", parent=parent)
        for key, parent in (("again", trunk), ("cover", None))
    ]
    for job in chance.sample(jobs, 5):
        job.branch = chance.choice([trunk, *pair])
        job.season = season
        job.save()
    relabel(holding_id=holding.pk)
    assert labels(holding) == tied(holding)
    refused = 0
    for _ in range(40):
        kept = list(Prerequisite.objects.filter(holding=holding).order_by("id"))
        first, second = chance.sample(jobs, 2)
        try:
            match chance.choice(["add", "add", "many", "remove", "change", "job"]):
                case "add":
                    add_link(link=link(first, second), by=None)
                case "many":
                    ends = [sorted(chance.sample(range(len(jobs)), 2)) for _ in range(2)]
                    add_links(holding_id=holding.pk, links=[link(jobs[a], jobs[b]) for a, b in ends], by=None)
                case "remove" if kept:
                    remove_link(link=chance.choice(kept), by=None)
                case "change" if kept:
                    moved = chance.choice(kept)
                    moved.successor = second
                    change_link(link=moved, by=None, fields=["successor"])
                case "job" if len(jobs) > 6:
                    jobs.remove(first)
                    remove_row(row=first, by=None)
        except Refused:
            refused += 1
        assert labels(holding) == tied(holding) == seen_by_the_walk(holding)
        edges = Prerequisite.objects.filter(holding=holding).values_list("predecessor_id", "successor_id")
        assert nx.is_directed_acyclic_graph(nx.DiGraph(list(edges)))
    assert refused < 40
    assert len(jobs) < 14


@pytest.mark.parametrize("what", ["job", "plot", "property"])
def test_what_hung_together_by_a_removed_row_alone_is_parted(
    what: str, holding: Holding, job_factory: JobFactory, plot_factory: Callable[..., Plot]
) -> None:
    hedge, lane = plot_factory(holding, name="Hedge"), plot_factory(holding, name="Lane")
    one, two, alone = (job_factory(holding, name, plot=lane) for name in ("Spray", "Mow", "Look"))
    bridge = job_factory(holding, "Clear", plot=hedge)
    for other in (one, two):
        add_link(link=link(bridge, other), by=None)
    assert labels(holding)[two.pk] == one.pk
    remove_row(row={"job": bridge, "plot": hedge, "property": hedge.property}[what], by=None)
    assert labels(holding) == {one.pk: one.pk, two.pk: two.pk, alone.pk: alone.pk} == tied(holding)
    walk_holding(holding.pk)
    assert differences(holding.pk) == {}


def test_a_removed_plot_is_read_by_its_components_once(
    holding: Holding, job_factory: JobFactory, plot_factory: Callable[..., Plot]
) -> None:
    def queries(length: int) -> int:
        plot = plot_factory(holding, name=f"Plot of {length}")
        jobs = [job_factory(holding, component=0, plot=plot) for _ in range(length)]
        add_links(holding_id=holding.pk, links=[link(a, b) for a, b in pairwise(jobs)], by=None)
        with CaptureQueriesContext(connection) as seen:
            remove_row(row=plot, by=None)
        return len(seen)

    assert queries(3) == queries(30)


def test_a_new_link_reads_its_components_alone(holding: Holding, job_factory: JobFactory) -> None:
    def chain(length: int) -> list[Job]:
        jobs = [job_factory(holding, component=0) for _ in range(length)]
        add_links(holding_id=holding.pk, links=[link(a, b) for a, b in pairwise(jobs)], by=None)
        return jobs

    def rows_read(first: Job, second: Job) -> int:
        """Rows that a new link's reads return, by asking each of them once more."""
        with CaptureQueriesContext(connection) as seen:
            add_link(link=link(first, second, relation="SS"), by=None)
        total = 0
        with connection.cursor() as cursor:
            for query in seen.captured_queries:
                if query["sql"].startswith("SELECT"):
                    cursor.execute(query["sql"])
                    total += len(cursor.fetchall())
                    if connection.vendor == "sqlite":
                        cursor.execute(f"EXPLAIN QUERY PLAN {query['sql']}")
                        assert not [row for row in cursor.fetchall() if "prerequisite_holding" in row[3]]
        return total

    small = chain(4)
    before = rows_read(small[0], small[2])
    for _ in range(5):
        chain(20)
    assert rows_read(small[1], small[3]) == before + 1
