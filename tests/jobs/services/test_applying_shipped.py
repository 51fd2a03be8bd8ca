"""Every shipped sequence is accepted by the tables and the graph's guards, also where seasons follow each other."""

from collections.abc import Callable

import pytest

from core.models import Holding
from jobs.models import Prerequisite, Sequence
from jobs.sequences import Shipped
from jobs.services.seasons import apply_sequence
from plots.models import Plot
from tests.jobs.sequences.conftest import shipped
from tests.jobs.sequences.test_shipped import NAMES

__all__ = ["shipped"]

pytestmark = pytest.mark.django_db
PlotFactory = Callable[..., Plot]


def stored(shipped: Shipped, key: str) -> Sequence:
    spec = shipped.sequences[key]
    return Sequence.objects.get_or_create(
        key=key, version=spec.version, holding=None, defaults={"name": spec.name, "document": shipped.documents[key]}
    )[0]


@pytest.mark.parametrize("key", sorted(NAMES))
def test_a_shipped_sequence_can_be_applied(key, shipped, holding: Holding, plot_factory: PlotFactory):
    spec = shipped.sequences[key]
    season = apply_sequence(plot=plot_factory(holding), sequence=stored(shipped, key), year=2027, by=None)
    assert season.jobs.count() == len(spec.steps)
    assert season.branches.count() == len(spec.branches)
    assert Prerequisite.objects.filter(successor__season=season).count() == len(spec.links)


def test_lime_of_the_soil_cycle_comes_half_a_year_before_clover(shipped, holding, plot_factory: PlotFactory):
    plot = plot_factory(holding)
    apply_sequence(plot=plot, sequence=stored(shipped, "soil_and_lime"), year=2026, by=None)
    season = apply_sequence(plot=plot, sequence=stored(shipped, "clover_frost_seeding"), year=2027, by=None)
    (tie,) = Prerequisite.objects.filter(successor__season=season).exclude(predecessor__season=season)
    assert (tie.predecessor.step, tie.successor.step) == ("lime", "sow")
    assert (tie.min_amount, tie.min_unit, tie.source) == (180, "days", "seed-house")


def test_rye_is_ended_before_corn_and_only_the_rye_of_this_plot(shipped, holding, plot_factory: PlotFactory):
    here, there = plot_factory(holding, name="Here"), plot_factory(holding, name="There")
    for plot in (here, there):
        apply_sequence(plot=plot, sequence=stored(shipped, "autumn_cereal"), year=2026, by=None)
    season = apply_sequence(plot=here, sequence=stored(shipped, "corn"), year=2027, by=None)
    found = Prerequisite.objects.filter(successor__season=season).exclude(predecessor__season=season)
    assert [(tie.successor.step, tie.predecessor.plot_id, tie.min_amount) for tie in found] == [("plant", here.pk, 10)]
    assert found[0].predecessor.operation == "spray"


def test_seasons_that_follow_each_other_close_no_circle(shipped, holding, plot_factory: PlotFactory):
    plot = plot_factory(holding)
    order = ["soil_and_lime", "corn", "autumn_cereal", "soybean", "brassica_summer", "clover_frost_seeding", "corn"]
    years = [2026, 2027, 2027, 2028, 2029, 2030, 2031]
    for key, year in zip(order, years, strict=True):
        apply_sequence(plot=plot, sequence=stored(shipped, key), year=year, by=None)
    across = Prerequisite.objects.exclude(predecessor__season_id=None)
    for tie in across.select_related("predecessor", "successor"):
        assert tie.predecessor.first_day <= tie.successor.last_day, str(tie)


def test_a_spray_of_another_season_counts_only_with_its_active(shipped, holding, plot_factory: PlotFactory):
    plot = plot_factory(holding)
    corn = apply_sequence(plot=plot, sequence=stored(shipped, "corn"), year=2027, by=None)
    clover = apply_sequence(plot=plot, sequence=stored(shipped, "clover_frost_seeding"), year=2028, by=None)
    assert not Prerequisite.objects.filter(predecessor__season=corn, successor__season=clover).exists()
