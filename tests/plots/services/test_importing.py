"""A file of facts is one transaction, says every refused line, and changes nothing the second time."""

import io
import zipfile
from datetime import UTC, date, datetime

import pytest

from core.errors import NotAllowed, NotFound
from core.models import Crew, Event, Holding, Person, Touched, Way
from plots.models import Day, Hour, Machine, Material, Normal, Plot, Property, PropertySeries, Series, StockMove
from tests.plots.services.intake import everything, example, refusals, take, versions

pytestmark = pytest.mark.django_db


# Every kind


def test_map_makes_the_property_its_plots_and_their_acres(holding: Holding, manager: Person) -> None:
    imported = take(holding, "geojson", example("plots.geojson"), by=manager)
    assert (imported.new, refusals(imported)) == (3, [])
    land = Property.objects.get()
    assert (land.name, land.zone, land.boundary["type"]) == ("Otter Bend", "America/Chicago", "Polygon")
    plots = {plot.name: plot for plot in Plot.objects.all()}
    assert {name: (plot.kind, plot.property) for name, plot in plots.items()} == {
        "Terrace": ("food_plot", land),
        "Pond grass": ("burn_unit", land),
    }
    # One minute of latitude is about 6,074 ft here and one of longitude 4,493 ft: the whole square is 14.64 acres.
    assert plots["Pond grass"].acres == pytest.approx(15.9, abs=0.4)
    assert all(plot.acres_typed is None and plot.perimeter_ft for plot in plots.values())
    assert any("South gate" in note and "no acres" in note for note in imported.notes)


def test_kml_kmz_and_gpx_make_plots_on_the_property_of_the_import(holding: Holding, land: Property) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("doc.kml", example("plots.kml").replace(b"Upper strip", b"Packed strip"))
    for kind, data in (("kml", example("plots.kml")), ("kmz", packed.getvalue()), ("gpx", example("walked.gpx"))):
        imported = take(holding, kind, data, property=land)
        assert (imported.new, refusals(imported)) == (1, []), kind
    assert sorted(Plot.objects.filter(property=land).values_list("name", flat=True)) == [
        "Creek edge",
        "Packed strip",
        "Upper strip",
    ]


def test_table_of_plots_gives_typed_acres_which_win_over_an_outline(holding: Holding, land: Property) -> None:
    assert take(holding, "plots", example("plots.csv")).new == 2
    flat = Plot.objects.get(name="Oak flat")
    assert (flat.property, flat.acres, flat.texture, flat.latitude) == (land, 1.25, "silt loam", 42.4349)
    ring = [[-94.2092, 42.4310], [-94.2071, 42.4308], [-94.2068, 42.4319], [-94.2090, 42.4322], [-94.2092, 42.4310]]
    drawn = (
        '{"type": "Feature", "properties": {"name": "oak flat", "property": "otter bend"},'
        f' "geometry": {{"type": "Polygon", "coordinates": [{ring}]}}}}'
    )
    imported = take(holding, "geojson", drawn)
    flat.refresh_from_db()
    assert (imported.new, imported.changed, Plot.objects.count()) == (0, 1, 2)
    assert (flat.acres, flat.kind, flat.polygon["coordinates"]) == (1.25, "food_plot", [ring])
    assert any("typed 1.25 acres stay" in note for note in imported.notes)


def test_people_come_with_their_address_and_crews(holding: Holding, manager: Person) -> None:
    assert take(holding, "people", example("people.csv"), by=manager).new == 3
    bo = Person.objects.get(name="Bo")
    assert (bo.role, bo.user, [way.address for way in bo.ways.all()]) == ("helper", None, ["bo@example.org"])
    assert sorted(crew.name for crew in bo.crews.all()) == ["Burn crew", "Weekend crew"]
    assert Crew.objects.get(name="Weekend crew").members.count() == 2
    assert Way.objects.get(person=bo).verified_at is None


def test_machines_stand_at_their_property(holding: Holding, land: Property) -> None:
    assert take(holding, "machines", example("machines.csv")).new == 3
    sprayer, drill = Machine.objects.get(name="Mounted sprayer"), Machine.objects.get(name="No-till drill")
    assert (sprayer.at_property, sprayer.width_ft, sprayer.speed_mph, sprayer.efficiency) == (land, 18, 4.5, 0.65)
    assert (drill.state, drill.until, drill.at_property) == ("hired", date(2027, 6, 30), None)


def test_materials_come_with_lots_and_what_is_in_store(holding: Holding) -> None:
    assert take(holding, "materials", example("materials.csv")).new == 3
    stock = {(move.material.name, move.lot and move.lot.number): move.quantity for move in StockMove.objects.all()}
    assert stock == {("Ladino clover seed", "LC-41"): 30, ("Starter", None): 400, ("Grass herbicide", None): 1.5}
    assert Material.objects.get(name="Grass herbicide").active == "clethodim"


def test_days_and_hours_go_to_a_series_of_the_property_that_reads_it_from_then_on(
    holding: Holding, land: Property
) -> None:
    assert take(holding, "days", example("days.csv"), property=land).new == 3
    assert take(holding, "hours", example("hours.csv"), property=land).new == 3
    series = Series.objects.get()
    assert (series.owner, series.zone) == (holding, "America/Chicago")
    assert [(row.property, row.rank, row.series) for row in PropertySeries.objects.all()] == [(land, 1, series)]
    assert list(series.days.order_by("date").values_list("high_f", "low_f", "rain_in")) == [
        (71, 47, 0),
        (66, 49, 0.42),
        (63, None, 0),
    ]
    assert series.hours.order_by("at").first().at == datetime(2027, 5, 1, 13, tzinfo=UTC)


def test_weather_without_a_property_is_kept_and_says_that_nobody_reads_it(holding: Holding) -> None:
    imported = take(holding, "days", example("days.csv"))
    assert imported.new == 3
    assert any("No property reads" in note for note in imported.notes)


def test_weather_is_ranked_after_the_series_that_a_property_reads_already(holding: Holding, land: Property) -> None:
    station = Series.objects.create(source="station", place="somewhere")
    PropertySeries.objects.create(holding=holding, property=land, rank=4, series=station)
    take(holding, "days", example("days.csv"), property=land)
    assert list(PropertySeries.objects.order_by("rank").values_list("rank", "series__owner")) == [
        (4, None),
        (5, holding.pk),
    ]


def test_normals_of_a_station_go_to_the_series_of_the_property(holding: Holding, land: Property) -> None:
    imported = take(holding, "normals", example("normals.csv"), property=land)
    assert (imported.new, imported.refused) == (3, ())
    may = Normal.objects.get(month_day="05-09", series__in=PropertySeries.objects.values("series"))
    assert (may.high_f, may.low_f) == (70.4, 47.9)
    assert may.degree_days == {"40": 19.0, "50": 9.0, "86/50": 11.0}
    text = example("normals.csv").decode().replace("70.4", "71.4")
    again = take(holding, "normals", text, property=land)
    assert (again.new, again.changed, again.same) == (0, 1, 2)


def test_history_of_a_station_is_stored_in_our_units(holding: Holding, land: Property) -> None:
    """21.7 C is 71.06 F, 5.1 mm 0.2008 in."""
    assert take(holding, "history", example("history.csv"), property=land).new == 2
    first = Day.objects.get(date="2027-05-07")
    assert (first.high_f, first.low_f, first.rain_in) == pytest.approx((71.06, 48.92, 0.2007874))


def test_hours_with_a_time_of_issue_are_forecasts(holding: Holding, land: Property) -> None:
    head = "time,temp_f,wind_mph,issued\n"
    text = head + "2026-05-09T14:00Z,70,8,2026-05-09T06:00Z\n2026-05-09T14:00Z,71,,\n"
    assert take(holding, "hours", text, property=land).new == 2
    forecast, observed = Hour.objects.order_by("kind")
    assert (forecast.kind, forecast.temp_f, forecast.issued_at) == ("forecast", 70, datetime(2026, 5, 9, 6, tzinfo=UTC))
    assert (observed.kind, observed.temp_f, observed.issued_at) == ("observed", 71, None)


def test_a_later_forecast_takes_the_place_of_an_earlier_one_whole(holding: Holding, land: Property) -> None:
    head = "time,temp_f,wind_mph,issued\n2026-05-09T14:00Z,"
    take(holding, "hours", head + "70,8,2026-05-09T06:00Z\n", property=land)
    assert take(holding, "hours", head + "65,,2026-05-09T12:00Z\n", property=land).changed == 1
    assert take(holding, "hours", head + "80,9,2026-05-09T09:00Z\n", property=land).same == 1
    assert list(Hour.objects.values_list("temp_f", "wind_mph")) == [(65, None)]


def test_hourly_times_without_offset_are_of_the_named_zone(holding: Holding, land: Property) -> None:
    text = "time,temp_f\n2026-05-09 14:00,60\n"
    take(holding, "hours", text, property=land)
    take(holding, "hours", text, zone="America/New_York")
    assert sorted(hour.at.hour for hour in Hour.objects.all()) == [18, 19]


# The second time


IN_ORDER = ["plots.geojson", "plots.kml", "plots.csv", "people.csv", "machines.csv", "materials.csv", "days.csv",
            "normals.csv", "history.csv"]  # fmt: skip


def kind_of(name: str) -> str:
    return {"plots.geojson": "geojson", "plots.kml": "kml"}.get(name, name.removesuffix(".csv"))


def test_the_same_files_again_change_nothing_and_say_0_new(holding: Holding, manager: Person) -> None:
    for name in [*IN_ORDER, "hours.csv"]:
        assert take(holding, kind_of(name), example(name), by=manager).stored
    before, version = everything(), versions(holding)
    for name in [*IN_ORDER, "hours.csv"]:
        again = take(holding, kind_of(name), example(name), by=manager)
        assert (again.stored, again.refused) == (0, ()), name
        assert again.summary.startswith("0 new, 0 changed, ")
        assert again.same >= 1
    assert (everything(), versions(holding)) == (before, version)


def test_what_a_file_leaves_empty_stays_as_it_is(holding: Holding, manager: Person, land: Property) -> None:
    Machine.objects.create(holding=holding, name="Old tractor", kind="tractor", state="down", at_property=land)
    Material.objects.create(holding=holding, name="Strong", kind="herbicide", unit="gal", restricted=True, lead_days=9)
    take(holding, "machines", "name,kind,width_ft\nOld tractor,tractor,6\n")
    take(holding, "materials", "name,kind,unit,restricted\nStrong,herbicide,gal,\n")
    take(holding, "people", "name,role\nManager of home,\n")
    tractor, strong = Machine.objects.get(), Material.objects.get()
    assert (tractor.width_ft, tractor.state, tractor.at_property) == (6, "down", land)
    assert (strong.restricted, strong.lead_days) == (True, 9)
    manager.refresh_from_db()
    assert manager.role == "manager"


def test_machine_that_works_again_is_no_longer_down_until_a_day(holding: Holding) -> None:
    Machine.objects.create(holding=holding, name="Mower", kind="mower", state="down", until="2026-06-01")
    take(holding, "machines", "name,kind,state\nmower,mower,works\n")
    mower = Machine.objects.get()
    assert (mower.name, mower.state, mower.until) == ("Mower", "works", None)


def test_days_merge_and_an_empty_value_erases_nothing(holding: Holding, land: Property) -> None:
    take(holding, "days", "date,high_f,low_f\n2026-05-01,71,47\n2026-05-02,66,49\n", property=land)
    second = take(holding, "days", "date,high_f,rain_in\n2026-05-01,,0.3\n2026-05-02,66,\n", property=land)
    assert (second.new, second.changed, second.same) == (0, 1, 1)
    assert list(Day.objects.order_by("date").values_list("high_f", "low_f", "rain_in")) == [
        (71, 47, 0.3),
        (66, 49, None),
    ]


def test_count_in_store_is_brought_about_by_one_movement(holding: Holding) -> None:
    head = "name,kind,unit,on_hand,lot\n"
    take(holding, "materials", f"{head}Oats,seed,lb,100,A\nOats,seed,lb,40,B\nOats,seed,lb,5,\n")
    oats = Material.objects.get()
    StockMove.objects.create(holding=holding, material=oats, quantity=-30, at=datetime(2026, 5, 1, tzinfo=UTC))
    counted = take(holding, "materials", f"{head}Oats,seed,lb,120,\n")
    assert [note for note in counted.notes if "set from 115 to 120 lb" in note]
    assert sum(move.quantity for move in oats.moves.all()) == 120
    assert (counted.changed, oats.moves.count(), oats.lots.count()) == (1, 5, 2)


# Who is woken


def test_new_weather_wakes_those_who_read_the_series_once_and_is_logged(
    holding: Holding, land: Property, other_holding: Holding, manager: Person
) -> None:
    take(holding, "days", "date,high_f\n2026-05-01,71\n", property=land)
    series = Series.objects.get()
    more = Property.objects.create(holding=holding, name="Far", latitude=40, longitude=-90)
    PropertySeries.objects.create(holding=holding, property=more, rank=1, series=series)
    Touched.objects.all().delete()
    before = versions(holding, other_holding)
    take(holding, "days", "date,high_f\n2026-05-01,72\n", property=land, by=manager)
    assert versions(holding, other_holding) == [before[0] + 1, before[1]]
    assert list(Touched.objects.values_list("holding_id", "key")) == [(holding.pk, f"series:{series.pk}")]
    event = Event.objects.latest("pk")
    assert (event.verb, event.object, event.person, event.change) == (
        "imported",
        "series",
        manager,
        {"days new": 0, "days changed": 1},
    )


def test_plots_people_and_stores_wake_the_walk_by_their_keys(holding: Holding, land: Property) -> None:
    for name in ("plots.csv", "people.csv", "machines.csv", "materials.csv"):
        Touched.objects.all().delete()
        take(holding, kind_of(name), example(name))
        kinds = {key.partition(":")[0] for key in Touched.objects.values_list("key", flat=True)}
        assert {name.removesuffix(".csv").removesuffix("s"), "people"} & kinds, name


# Borders


def test_nothing_of_another_holding_is_taken_for_ones_own(
    holding: Holding, other_holding: Holding, other_manager: Person
) -> None:
    theirs = Property.objects.create(holding=other_holding, name="Far", latitude=40, longitude=-90)
    kept = Series.objects.create(owner=other_holding, source="typed", place="x")
    station = Series.objects.create(source="station", place="y")
    for more in ({"property": theirs}, {"series": kept}):
        with pytest.raises(NotFound):
            take(holding, "days", example("days.csv"), **more)
    with pytest.raises(NotAllowed):
        take(holding, "days", example("days.csv"), series=station)
    imported = take(holding, "plots", "name,property,acres\nA,Far,2\n")
    assert "No property 'Far' is in this holding" in refusals(imported)[0]
    take(holding, "people", f"name,role\n{other_manager.name},viewer\n")
    other_manager.refresh_from_db()
    assert other_manager.role == "manager"
