"""River gauges: three shapes of replies, and what is no reading."""

import copy
from typing import Any

import pytest

from plots.forecasts import Unusable
from plots.forecasts.gauges import Stage, flood_state, stage_forecast, stages
from plots.forecasts.instants import minute_of

LEGACY = {
    "name": "ns1:timeSeriesResponseType",
    "value": {
        "queryInfo": {"note": [{"title": "requestDT", "value": "2020-02-20T21:02:27.219Z"}]},
        "timeSeries": [
            {
                "sourceInfo": {"siteCode": [{"value": "01491000", "network": "NWIS", "agencyCode": "USGS"}]},
                "variable": {
                    "variableCode": [{"value": "00065"}],
                    "variableName": "Gage height, ft",
                    "unit": {"unitCode": "ft"},
                    "noDataValue": -999999.0,
                },
                "values": [
                    {
                        "value": [
                            {"value": "6.48", "qualifiers": ["A"], "dateTime": "2019-02-14T00:00:00.000-05:00"},
                            {"value": "-999999", "qualifiers": ["P"], "dateTime": "2019-02-14T00:15:00.000-05:00"},
                            {"value": "6.51", "qualifiers": ["A"], "dateTime": "2019-02-14T00:30:00.000-05:00"},
                        ]
                    }
                ],
            }
        ],
    },
}
COLLECTION = {
    "type": "FeatureCollection",
    "numberReturned": 1,
    "features": [
        {
            "type": "Feature",
            "geometry": None,
            "properties": {
                "monitoring_location_id": "USGS-06904500",
                "parameter_code": "00065",
                "time": "2026-08-07T18:45:00+00:00",
                "value": "1.59",
                "unit_of_measure": "ft",
                "approval_status": "Provisional",
            },
        }
    ],
}
GAUGE = {
    "lid": "NKWA1",
    "status": {
        "observed": {
            "primary": 8.45,
            "primaryUnit": "ft",
            "floodCategory": "no_flooding",
            "validTime": "2025-01-03T18:00:00Z",
        },
        "forecast": {
            "primary": 9.2,
            "primaryUnit": "ft",
            "floodCategory": "no_flooding",
            "validTime": "2025-01-05T06:00:00Z",
        },
    },
    "flood": {"stageflow": {"action": {"stage": 12.0}, "minor": {"stage": 14.0}, "major": {"stage": None}}},
}


def test_the_older_service_gives_text_that_is_read_as_feet() -> None:
    found = stages(LEGACY)
    assert [stage.feet for stage in found] == [6.48, 6.51]
    assert found[0].at == minute_of("2019-02-14T05:00:00+00:00")


def test_the_collection_gives_one_reading_a_feature() -> None:
    (stage,) = stages(COLLECTION)
    assert (stage.at, stage.feet) == (minute_of("2026-08-07T18:45:00+00:00"), 1.59)


def test_no_series_is_no_reading() -> None:
    assert stages({"value": {"timeSeries": []}}) == ()
    assert stages({"features": []}) == ()


@pytest.mark.parametrize("value", [None, "", "ice", "nan", "-999999", "1e6"])
def test_what_is_no_stage_is_no_reading(value: Any) -> None:
    changed = copy.deepcopy(COLLECTION)
    changed["features"][0]["properties"]["value"] = value  # type: ignore[index]
    assert stages(changed) == ()


@pytest.mark.parametrize(("key", "other"), [("parameter_code", "00060"), ("unit_of_measure", "m")])
def test_another_parameter_or_unit_is_no_stage(key: str, other: str) -> None:
    changed = copy.deepcopy(COLLECTION)
    changed["features"][0]["properties"][key] = other  # type: ignore[index]
    assert stages(changed) == ()


@pytest.mark.parametrize("broken", [None, [], {}, {"value": 3}, {"value": {"timeSeries": [{"variable": [1]}]}}])
def test_a_reply_of_another_shape_is_refused(broken: Any) -> None:
    with pytest.raises(Unusable):
        stages(broken)


def test_a_gauge_says_its_stage_and_its_levels() -> None:
    found = flood_state(GAUGE)
    assert (found.feet, found.category, found.lid) == (8.45, "no_flooding", "NKWA1")
    assert found.crest == Stage(minute_of("2025-01-05T06:00:00Z"), 9.2)
    assert found.levels == {"action": 12.0, "minor": 14.0}


def test_the_other_spelling_of_the_levels_is_read() -> None:
    changed = copy.deepcopy(GAUGE)
    changed["flood"] = {"categories": {"action": {"stage": 3.0}}}
    assert flood_state(changed).levels == {"action": 3.0}


@pytest.mark.parametrize("category", ["not_defined", "obs_not_current", "out_of_service", "new_word", None])
def test_a_category_that_says_nothing_gives_no_stage(category: Any) -> None:
    changed = copy.deepcopy(GAUGE)
    changed["status"]["observed"]["floodCategory"] = category  # type: ignore[index]
    found = flood_state(changed)
    assert (found.at, found.feet, found.category, found.said) == (None, None, None, category or "")


@pytest.mark.parametrize("broken", [None, [], {}, {"status": "up"}])
def test_what_is_no_gauge_is_refused(broken: Any) -> None:
    with pytest.raises(Unusable):
        flood_state(broken)


def test_a_forecast_that_is_not_current_is_none() -> None:
    """As the service answers for a gauge without a forecast: -999, no unit, and the year 1."""
    changed = copy.deepcopy(GAUGE)
    changed["status"]["forecast"] = {  # type: ignore[index]
        "primary": -999,
        "primaryUnit": "",
        "floodCategory": "fcst_not_current",
        "validTime": "0001-01-01T00:00:00Z",
    }
    assert flood_state(changed).crest is None


FORECAST = {
    "primaryName": "Stage",
    "primaryUnits": "ft",
    "issuedTime": "2025-01-03T15:00:00Z",
    "data": [
        {"validTime": "2025-01-04T06:00:00Z", "primary": 9.2, "secondary": -999},
        {"validTime": "2025-01-04T00:00:00Z", "primary": 8.9, "secondary": -999},
        {"validTime": "2025-01-04T12:00:00Z", "primary": -999, "secondary": -999},
    ],
}


def test_a_forecast_gives_its_stages_in_order_and_its_time_of_issue() -> None:
    issued, found = stage_forecast(FORECAST)
    assert issued == minute_of("2025-01-03T15:00:00Z")
    assert found == (Stage(minute_of("2025-01-04T00:00:00Z"), 8.9), Stage(minute_of("2025-01-04T06:00:00Z"), 9.2))


@pytest.mark.parametrize("change", [{"primaryUnits": "m"}, {"primaryName": "Flow"}, {"data": []}, {"issuedTime": None}])
def test_what_is_no_stage_forecast_is_refused(change: dict[str, Any]) -> None:
    with pytest.raises(Unusable):
        stage_forecast({**FORECAST, **change})
