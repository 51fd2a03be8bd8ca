"""A property finds its zone, a plot its acres."""

from typing import Any

import pytest

from core.errors import NotFound, Refused
from core.models import Holding, Person
from plots.models import Plot, Property
from plots.services.land import save_plot, save_property

pytestmark = pytest.mark.django_db

# One degree square, corners 33-34 N and 83-84 W on WGS 84; geographiclib 2.1 and pyproj 3.7.2 agree on its acres.
DEGREE = {"type": "Polygon", "coordinates": [[[-84, 33], [-83, 33], [-83, 34], [-84, 34], [-84, 33]]]}
DEGREE_ACRES = 2_546_728.836343


def land(holding: Holding, **fields: Any) -> Property:
    return Property(**{"holding": holding, "name": "Square", "latitude": 33.5, "longitude": -83.5} | fields)


@pytest.fixture
def square(holding: Holding, manager: Person) -> Property:
    return save_property(row=land(holding), by=manager)


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone"),
    [(33.5, -83.5, "America/New_York"), (40.1, -91.1, "America/Chicago"), (33.45, -112.07, "America/Phoenix")],
)
def test_zone_is_found_from_the_place(
    latitude: float, longitude: float, zone: str, holding: Holding, manager: Person
) -> None:
    assert save_property(row=land(holding, latitude=latitude, longitude=longitude), by=manager).zone == zone


def test_typed_zone_stays_until_the_place_moves_without_one(holding: Holding, manager: Person) -> None:
    row = save_property(row=land(holding, zone="America/Chicago"), by=manager, fields=["latitude", "longitude", "zone"])
    assert row.zone == "America/Chicago"
    row.floods = True
    assert save_property(row=row, by=manager, fields=["floods"]).zone == "America/Chicago"
    row.longitude = -112.07
    assert save_property(row=row, by=manager, fields=["longitude"]).zone == "America/Phoenix"


def test_acres_of_the_outline_are_geodesic(square: Property, manager: Person) -> None:
    plot = save_plot(row=Plot(holding=square.holding, property=square, name="All", polygon=DEGREE), by=manager)
    assert plot.acres_geodesic == pytest.approx(DEGREE_ACRES, rel=1e-9)
    assert plot.acres == plot.acres_geodesic
    assert plot.perimeter_ft is not None
    assert (plot.latitude, plot.longitude) == (pytest.approx(33.5, abs=0.01), pytest.approx(-83.5, abs=0.01))


def test_typed_acres_win_and_go_when_cleared(square: Property, manager: Person) -> None:
    row = Plot(holding=square.holding, property=square, name="All", polygon=DEGREE, acres_typed=12.0)
    plot = save_plot(row=row, by=manager)
    assert plot.acres == 12.0
    plot.acres_typed = None
    assert save_plot(row=plot, by=manager, fields=["acres_typed"]).acres == pytest.approx(DEGREE_ACRES, rel=1e-9)


def test_plot_without_outline_needs_typed_acres(square: Property, manager: Person) -> None:
    with pytest.raises(Refused, match="Give acres above 0, or a polygon"):
        save_plot(row=Plot(holding=square.holding, property=square, name="None"), by=manager)
    plot = save_plot(row=Plot(holding=square.holding, property=square, name="All", polygon=DEGREE), by=manager)
    plot.polygon = None
    with pytest.raises(Refused, match="Give acres above 0, or a polygon"):
        save_plot(row=plot, by=manager, fields=["polygon"])
    assert Plot.objects.get(pk=plot.pk).acres_geodesic == pytest.approx(DEGREE_ACRES, rel=1e-9)


def test_perimeter_is_typed_for_a_line_and_not_against_an_outline(square: Property, manager: Person) -> None:
    line = Plot(holding=square.holding, property=square, name="Fence", kind="fence_line", acres_typed=0.1)
    line.perimeter_ft = 640.0
    assert save_plot(row=line, by=manager, fields=["perimeter_ft"]).perimeter_ft == 640.0
    row = Plot(holding=square.holding, property=square, name="All", polygon=DEGREE, perimeter_ft=5.0)
    with pytest.raises(Refused, match="measured from the outline"):
        save_plot(row=row, by=manager, fields=["polygon", "perimeter_ft"])


@pytest.mark.parametrize(
    ("ring", "told"),
    [
        ([[-84, 33], [-83, 34], [-83, 33], [-84, 34], [-84, 33]], "crosses"),
        ([[33, -84], [33, -83], [34, -83], [34, -84], [33, -84]], "swapped"),
        ([[-84, 33], [-83, 33], [-83, 34]], "A ring"),
    ],
)
def test_outline_that_is_none_is_refused_with_what_to_do(
    ring: list[list[int]], told: str, square: Property, manager: Person
) -> None:
    polygon = {"type": "Polygon", "coordinates": [ring]}
    with pytest.raises(Refused, match=told) as refusal:
        save_plot(row=Plot(holding=square.holding, property=square, name="Odd", polygon=polygon), by=manager)
    assert (refusal.value.code, refusal.value.field) == ("invalid", "polygon")
    assert not Plot.objects.exists()


def test_plot_on_another_holdings_property_is_not_found(square: Property, other_manager: Person) -> None:
    row = Plot(holding=other_manager.holding, property=square, name="Mine", acres_typed=1.0)
    with pytest.raises(NotFound):
        save_plot(row=row, by=other_manager)
