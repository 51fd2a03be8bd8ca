"""Weather series and their values by API."""

import pytest

from plots.models import Day, Series
from tests.core.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def station() -> Series:
    series = Series.objects.create(source="station", place="somewhere")
    Day.objects.create(series=series, date="2026-04-01", high_f=60.0)
    return series


def test_two_holdings_may_name_a_place_alike(world: World) -> None:
    for asker in ("manager", "stranger"):
        made = world.clients[asker].post("/api/series/", {"place": "barn"}, format="json")
        assert made.status_code == 201
        assert made.json()["own"] is True


def test_source_is_not_chosen_by_hand(world: World) -> None:
    answer = world.clients["manager"].post("/api/series/", {"place": "barn", "source": "station"}, format="json")
    assert answer.json()["errors"][0]["pointer"] == "#/source"


def test_station_is_read_by_all_and_written_by_nobody(world: World, station: Series) -> None:
    for asker in ("manager", "stranger", "viewer"):
        assert world.clients[asker].get("/api/days/", {"series": station.pk}).json()["count"] == 1
        assert world.clients[asker].get(f"/api/series/{station.pk}/").json()["own"] is False
    script, day = world.clients["manager"], Day.objects.get(series=station)
    answers = [
        script.post("/api/days/", {"series": station.pk, "date": "2026-04-02", "high_f": 1}, format="json"),
        script.patch(f"/api/days/{day.pk}/", {"high_f": 1}, format="json"),
        script.delete(f"/api/days/{day.pk}/"),
        script.patch(f"/api/series/{station.pk}/", {"name": "mine"}, format="json"),
        script.delete(f"/api/series/{station.pk}/"),
    ]
    assert [answer.status_code for answer in answers] == [403] * 5
    assert Day.objects.get(series=station).high_f == 60.0


def test_days_are_found_between_dates(world: World) -> None:
    script, series = world.clients["manager"], world.home.id("series")
    for day in ("2026-04-03", "2026-04-02"):
        script.post("/api/days/", {"series": series, "date": day, "high_f": 60, "low_f": 41}, format="json")
    query = {"series": series, "date__gte": "2026-04-02", "date__lte": "2026-04-30"}
    lines = script.get("/api/days/", query).json()["results"]
    assert [line["date"] for line in lines] == ["2026-04-02", "2026-04-03"]


@pytest.mark.parametrize(
    "wrong", [{"high_f": 30.0, "low_f": 40.0}, {"high_f": 141.0}, {"rain_in": -0.1}, {"rain_in": True}]
)
def test_day_that_cannot_be_is_refused(wrong: dict[str, float], world: World) -> None:
    body = {"series": world.home.id("series"), "date": "2026-04-02", **wrong}
    assert world.clients["manager"].post("/api/days/", body, format="json").status_code == 400


def test_day_is_stored_once(world: World) -> None:
    body = {"series": world.home.id("series"), "date": "2026-04-01", "high_f": 60.0}
    answer = world.clients["manager"].post("/api/days/", body, format="json")
    assert (answer.status_code, answer.json()["detail"]) == (400, "This day is stored already.")


def test_property_reads_a_station_or_an_own_series_and_no_other(world: World, station: Series) -> None:
    script, land = world.clients["manager"], world.home.id("new_property")
    for rank, (series, status) in enumerate(
        [(station.pk, 201), (world.home.id("series"), 201), (world.away.id("series"), 404), (987_654_321, 404)], 1
    ):
        body = {"property": land, "rank": rank, "series": series}
        assert script.post("/api/property-series/", body, format="json").status_code == status
