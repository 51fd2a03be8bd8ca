"""A season waits for another alike, whichever of the two was applied first."""

import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from core.errors import Refused
from core.models import Event, Holding, Person
from jobs.models import Job, Need, Prerequisite, Season
from jobs.services.calling_off import call_off_season
from jobs.services.links import change_link, remove_link
from jobs.services.needs import remove_need, save_need
from jobs.services.reports import NewReport, store_report
from jobs.services.seasons import apply_sequence, latest_sequence
from jobs.services.sequences import save_version
from plots.models import Material, Plot

pytestmark = pytest.mark.django_db
NOW = datetime(2027, 1, 15, 18, tzinfo=UTC)
PlotFactory = Callable[..., Plot]


@pytest.fixture
def plot(holding: Holding, plot_factory: PlotFactory) -> Plot:
    return plot_factory(holding)


def apply(plot: Plot, key: str, year: int, **more: Any) -> Season:
    return apply_sequence(plot=plot, sequence=latest_sequence(plot.holding_id, key), year=year, by=None, **more)


def between(first: Season, then: Season) -> list[tuple[str, str, float]]:
    found = Prerequisite.objects.filter(predecessor__season=first, successor__season=then).order_by("id")
    return list(found.values_list("predecessor__step", "successor__step", "min_amount"))


def document(key: str, steps: list[str], links: list[tuple[str, str]], across: list[dict[str, Any]]) -> dict[str, Any]:
    days = {"from": "04-01", "to": "06-30"}
    return {
        "key": key,
        "version": 1,
        "name": key.capitalize(),
        "purpose": "To be tied.",
        "region": "Anywhere.",
        "habitat": "plot",
        "season": days,
        "step": [
            {"key": step, "operation": step, "title": step.capitalize(), "instruction": "As it says.", **days}
            | {"source": "common-practice"}
            for step in steps
        ],
        "link": [{"before": one, "after": two, "source": "common-practice"} for one, two in links],
        "across": [row | {"source": "common-practice"} for row in across],
    }


def test_lime_that_is_planned_after_the_clover_is_waited_for_all_the_same(plot: Plot) -> None:
    clover = apply(plot, "clover_frost_seeding", 2027)
    lime = apply(plot, "soil_and_lime", 2026)
    assert between(lime, clover) == [("lime", "sow", 180)]
    ends = Job.objects.filter(season__in=[lime, clover], step__in=["lime", "sow"])
    assert len(set(ends.values_list("component", flat=True))) == 1


def test_a_spray_that_is_planned_later_counts_by_its_active(holding: Holding, plot: Plot) -> None:
    clover = apply(plot, "clover_frost_seeding", 2028)
    product = Material.objects.create(
        holding=holding, name="Post", kind="herbicide", unit="gal", active="Mesotrione, atrazine"
    )
    corn = apply(plot, "corn", 2027, materials={"post-emergence herbicide": product.pk})
    assert ("sow", 548) in [(after, wait) for _, after, wait in between(corn, clover)]


def test_a_spray_whose_material_is_chosen_later_is_waited_for_from_then_on(
    holding: Holding, plot: Plot, manager: Person
) -> None:
    clover, corn = apply(plot, "clover_frost_seeding", 2028), apply(plot, "corn", 2027)
    assert between(corn, clover) == []
    product = Material.objects.create(holding=holding, name="Post", kind="herbicide", unit="gal", active="Mesotrione")
    need = Need.objects.get(job__season=corn, job__step="post_spray", kind="material")
    need.material = product
    for _ in range(2):
        save_need(need=need, by=manager, fields=["material"])
        assert between(corn, clover) == [("post_spray", "sow", 548)]


def test_another_plot_is_not_tied_but_the_firebreak_of_the_property_is(
    holding: Holding, plot: Plot, plot_factory: PlotFactory
) -> None:
    beside = plot_factory(holding, property=plot.property, name="Beside")
    clover, burn = apply(plot, "clover_frost_seeding", 2027), apply(plot, "native_grass_burn", 2027)
    assert between(apply(beside, "soil_and_lime", 2026), clover) == []
    tied = between(apply(beside, "trail_firebreak", 2026), burn)
    assert {after for _, after, _ in tied} == {"burn_late", "burn_early"}


def test_applying_again_ties_what_is_missing_once(plot: Plot) -> None:
    clover, lime = apply(plot, "clover_frost_seeding", 2027), apply(plot, "soil_and_lime", 2026)
    count = Prerequisite.objects.count()
    for key, year in (("clover_frost_seeding", 2027), ("soil_and_lime", 2026)):
        apply(plot, key, year)
        assert Prerequisite.objects.count() == count
    Prerequisite.objects.filter(predecessor__season=lime, successor__season=clover).delete()
    apply(plot, "clover_frost_seeding", 2027)
    assert between(lime, clover) == [("lime", "sow", 180)]


def tie(first: Season, then: Season) -> Prerequisite:
    return Prerequisite.objects.get(predecessor__season=first, successor__season=then)


def test_a_tie_that_somebody_removed_is_not_restored_by_applying_again(plot: Plot, manager: Person) -> None:
    clover, lime = apply(plot, "clover_frost_seeding", 2027), apply(plot, "soil_and_lime", 2026)
    remove_link(link=tie(lime, clover), by=manager)
    for key, year in (("clover_frost_seeding", 2027), ("soil_and_lime", 2026)):
        apply(plot, key, year)
        assert between(lime, clover) == []


def test_a_tie_that_somebody_gave_other_jobs_is_not_restored(plot: Plot, manager: Person) -> None:
    clover, lime = apply(plot, "clover_frost_seeding", 2027), apply(plot, "soil_and_lime", 2026)
    link = tie(lime, clover)
    link.successor = clover.jobs.exclude(step="sow").order_by("id").first() or link.successor
    change_link(link=link, by=manager, fields=["successor"])
    apply(plot, "clover_frost_seeding", 2027)
    assert [after for _, after, _ in between(lime, clover)] == [link.successor.step]


def test_a_tie_that_stands_waits_longer_once_more_is_asked(plot: Plot) -> None:
    clover, lime = apply(plot, "clover_frost_seeding", 2027), apply(plot, "soil_and_lime", 2026)
    Prerequisite.objects.filter(pk=tie(lime, clover).pk).update(min_amount=60)
    apply(plot, "clover_frost_seeding", 2027)
    assert between(lime, clover) == [("lime", "sow", 180)]
    Prerequisite.objects.filter(pk=tie(lime, clover).pk).update(min_amount=300)
    apply(plot, "clover_frost_seeding", 2027)
    assert between(lime, clover) == [("lime", "sow", 300)], "a longer wait is never shortened"


def test_a_wait_that_somebody_shortened_stays_short(plot: Plot, manager: Person) -> None:
    clover, lime = apply(plot, "clover_frost_seeding", 2027), apply(plot, "soil_and_lime", 2026)
    link = tie(lime, clover)
    link.min_amount = 90
    change_link(link=link, by=manager, fields=["min_amount"])
    apply(plot, "clover_frost_seeding", 2027)
    assert between(lime, clover) == [("lime", "sow", 90)]


def sprayed(holding: Holding, corn: Season, manager: Person, active: str) -> Need:
    """The need of the spray after the corn is up, with a product of this active chosen."""
    product = Material.objects.create(holding=holding, name=active, kind="herbicide", unit="gal", active=active)
    need = Need.objects.get(job__season=corn, job__step="post_spray", kind="material")
    need.material = product
    return save_need(need=need, by=manager, fields=["material"])


def test_another_material_drops_the_wait_that_only_the_one_before_asked_for(
    holding: Holding, plot: Plot, manager: Person
) -> None:
    clover, corn = apply(plot, "clover_frost_seeding", 2028), apply(plot, "corn", 2027)
    sprayed(holding, corn, manager, "Mesotrione")
    assert between(corn, clover) == [("post_spray", "sow", 548)]
    sprayed(holding, corn, manager, "Nothing known")
    assert between(corn, clover) == []
    remove_need(need=sprayed(holding, corn, manager, "mesotrione"), by=manager)
    assert between(corn, clover) == []


def test_what_was_sprayed_is_waited_for_whatever_is_typed_afterwards(
    holding: Holding, plot: Plot, manager: Person
) -> None:
    clover, corn = apply(plot, "clover_frost_seeding", 2028), apply(plot, "corn", 2027)
    need = sprayed(holding, corn, manager, "Mesotrione")
    store_report(
        person=manager,
        new=NewReport(client_id=uuid.uuid4(), kind="done", happened_at=NOW, job=need.job_id),
        now=NOW,
    )
    sprayed(holding, corn, manager, "Nothing known")
    assert between(corn, clover) == [("post_spray", "sow", 548)]


def test_a_wait_for_a_material_that_somebody_changed_stays(holding: Holding, plot: Plot, manager: Person) -> None:
    clover, corn = apply(plot, "clover_frost_seeding", 2028), apply(plot, "corn", 2027)
    sprayed(holding, corn, manager, "Mesotrione")
    link = tie(corn, clover)
    link.min_amount = 400
    change_link(link=link, by=manager, fields=["min_amount"])
    sprayed(holding, corn, manager, "Nothing known")
    assert between(corn, clover) == [("post_spray", "sow", 400)]


def test_what_was_begun_or_called_off_gets_no_new_predecessor(plot: Plot, manager: Person) -> None:
    clover = apply(plot, "clover_frost_seeding", 2027)
    sow = clover.jobs.get(step="sow")
    store_report(
        person=manager, new=NewReport(client_id=uuid.uuid4(), kind="start", happened_at=NOW, job=sow.pk), now=NOW
    )
    lime = apply(plot, "soil_and_lime", 2026)
    assert between(lime, clover) == []
    other = apply(plot, "clover_late_summer", 2027)
    call_off_season(season=other, by=manager, now=NOW)
    Prerequisite.objects.filter(successor__season=other, predecessor__season=lime).delete()
    apply(plot, "soil_and_lime", 2026)
    assert between(lime, other) == []


def test_of_two_seasons_of_one_sequence_the_earlier_goes_first_in_either_order(plot: Plot) -> None:
    later, earlier = apply(plot, "brassica_summer", 2028), apply(plot, "brassica_summer", 2027)
    assert between(earlier, later) == [("sow", "sow", 540)]
    one, two = (apply(plot, "brassica_summer", 2031, label=label) for label in ("One 2031", "Two 2031"))
    assert (between(one, two), between(two, one)) == ([("sow", "sow", 540)], [])


def test_a_tie_to_a_season_that_stands_never_closes_a_circle(holding: Holding, plot: Plot) -> None:
    save_version(
        holding=holding, by=None, document=document("mowing", ["mow", "till"], [("mow", "till")],
                                                   [{"operation": "lime", "to": "mow"}])
    )  # fmt: skip
    save_version(
        holding=holding, by=None, document=document("liming", ["spread", "lime"], [("spread", "lime")],
                                                   [{"operation": "till", "to": "spread"}])
    )  # fmt: skip
    apply(plot, "mowing", 2027)
    with pytest.raises(Refused) as refused:
        apply(plot, "liming", 2027)
    assert refused.value.code == "cycle"
    assert "Mow -> Till -> Spread -> Lime -> Mow" in str(refused.value)
    assert Season.objects.count() == 1


def test_a_tie_to_a_season_that_stands_never_contradicts_it(holding: Holding, plot: Plot) -> None:
    asks = [{"operation": "lime", "to": "mow", "min": "5 days"}, {"operation": "spread", "to": "mow", "max": "2 days"}]
    save_version(holding=holding, by=None, document=document("mowing", ["mow"], [], asks))
    liming = document("liming", ["lime", "spread"], [("spread", "lime")], [])
    save_version(holding=holding, by=None, document=liming)
    apply(plot, "mowing", 2027)
    with pytest.raises(Refused, match="contradict each other") as refused:
        apply(plot, "liming", 2027)
    assert refused.value.code == "contradiction"
    assert Season.objects.count() == 1


def test_of_the_log_only_what_was_removed_between_the_jobs_concerned_is_read(plot: Plot, manager: Person) -> None:
    clover, lime = apply(plot, "clover_frost_seeding", 2027), apply(plot, "soil_and_lime", 2026)
    ends = tie(lime, clover)
    remove_link(link=ends, by=manager)
    for predecessor, successor in ((0, ends.successor_id), (ends.predecessor_id, 0), (0, 0)):
        change = {"predecessor": predecessor, "successor": successor, "relation": "FS"}
        Event.objects.create(holding=plot.holding, object="prerequisite", verb="removed", change=change)
    asked: list[tuple[str, Any]] = []

    def keep(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
        if "removed" in (params or ()):
            asked.append((sql, params))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(keep):
        apply(plot, "soil_and_lime", 2026)
    assert len(asked) == 1
    with connection.cursor() as cursor:
        cursor.execute(*asked[0])
        assert len(cursor.fetchall()) == 1
    assert between(lime, clover) == []


def statements(work: Callable[[], object]) -> int:
    with CaptureQueriesContext(connection) as asked:
        work()
    return len(asked)


def test_applying_and_choosing_ask_no_more_of_the_database_beside_more_seasons(
    holding: Holding, plot_factory: PlotFactory, manager: Person
) -> None:
    applied, chosen = [], []
    product = Material.objects.create(holding=holding, name="Post", kind="herbicide", unit="gal", active="Nothing")
    for seasons in (1, 2, 4):
        plot = plot_factory(holding)
        for number in range(seasons):
            apply(plot, "clover_frost_seeding", 2028, label=f"Clover {number}")
        applied.append(statements(lambda plot=plot: apply(plot, "corn", 2027)))
        need = Need.objects.get(job__season__plot=plot, job__step="post_spray", kind="material")
        need.material = product
        chosen.append(statements(lambda need=need: save_need(need=need, by=manager, fields=["material"])))
    assert len(set(applied)) == 1, applied
    assert len(set(chosen)) == 1, chosen
