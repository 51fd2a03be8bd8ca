"""Limits in words, and the week as a picture that says the same in text."""

import re
from xml.etree import ElementTree

import pytest
from django.conf import settings

from jobs.reference import reference
from jobs.windows.catalogue import read_limits
from jobs.windows.finding import Edge
from jobs.windows.limits import Away, Between, DryAhead, Limit, Receded
from jobs.windows.picture import Shown, clock, week
from jobs.windows.words import broken, clear_by, edge_words

FIRST = 29_636_640  # 2026-05-08 00:00 UTC
WIND = Limit("spray_wind", "wind", "mph", 2.0, Between("wind_mph", 3, 10), "spray-wind-general")


def test_a_broken_band_says_which_end() -> None:
    assert broken(WIND) == "wind above 10 mph"
    assert broken(WIND, low=True) == "wind below 3 mph"


def test_every_shipped_limit_and_every_rule_has_words() -> None:
    text = (settings.FIXTURES / "limits.toml").read_text()
    shipped = [d.limit for d in read_limits(text, sources=reference().sources, operations=reference().operations)]
    more = [
        Limit("away", "smoke", "degrees", 15, Away((90,), 45), "manager"),
        Limit("river", "river", "ft", 1, Receded("stage_ft", 8, 1, 3), "manager"),
    ]
    for limit in [*shipped, *more]:
        assert limit.what in broken(limit)
        assert limit.what in clear_by(limit, 1.25)


def test_dry_hours_are_told_as_those_after_the_hour_of_the_work() -> None:
    def words(hours: int) -> str:
        return broken(Limit("dry", "rain", "in", 0.1, DryAhead(hours, 0.04), "common-practice"))

    assert words(6) == "rain: more than 0.04 in may fall within 6 h"
    assert words(0) == "rain: more than 0.04 in may fall"


@pytest.mark.parametrize(
    ("edge", "words"),
    [
        (Edge("spray_wind", -1.0), "wind above 10 mph"),
        (Edge("spray_wind", -1.0, low=True), "wind below 3 mph"),
        (Edge("spray_wind", None), "wind is not known"),
        (Edge("daylight"), "it is dark"),
        (Edge("horizon"), "nothing is known beyond"),
        (Edge("now"), "now"),
    ],
)
def test_an_edge_is_told_in_words(edge: Edge, words: str) -> None:
    assert edge_words(edge, {"spray_wind": WIND}) == words


def shown() -> Shown:
    hours = [(FIRST + 60 * at, "wind", None if at in (5, 6) else 2.0 - abs(at - 20) / 6) for at in range(168)]
    return Shown(
        title="Spray <the> clover",
        zone="America/Chicago",
        hours=hours,
        windows=[(FIRST + 480, FIRST + 900)],
        nights=[(FIRST + 60, FIRST + 660)],
        lines=["Friday 3:00 to 10:00; then the wind passes 10 mph.", "Forecast 3 h old."],
    )


def test_the_picture_is_well_formed_and_says_its_facts_as_text() -> None:
    root = ElementTree.fromstring(week(shown()))
    tags = {element.tag.rpartition("}")[2]: element for element in root.iter()}
    assert tags["title"].text == "Spray <the> clover"
    assert tags["desc"].text == "Friday 3:00 to 10:00; then the wind passes 10 mph. Forecast 3 h old."


def test_the_picture_is_of_one_ink() -> None:
    """Only the ink of the page and hatches: no colour of any kind."""
    picture = week(shown())
    assert "#" not in picture.replace("url(#", "")
    assert "rgb" not in picture


def test_hours_that_are_not_known_break_the_line_and_are_named() -> None:
    picture = week(shown())
    assert picture.count("<polyline") == 2
    assert "not known" in picture


def test_a_minute_is_told_by_the_clock_of_its_zone() -> None:
    assert clock(FIRST + 12 * 60, "America/Chicago") == "Fri 8 May 07:00"


def test_every_limit_is_named_along_the_line_and_no_name_lies_over_another() -> None:
    """Six hours of one limit, six of another, all week: names of neighbours stand in rows of their own."""
    names = ("wind", "wet-bulb depression", "rain after the spray")
    hours = [(FIRST + 60 * at, names[at // 6 % 3], 1.0) for at in range(72)]
    drawn = week(Shown("Spray", "UTC", hours, (), (), ("words",)))
    texts = re.findall(r'<text x="([\d.]+)" y="([\d.]+)">(wind|wet-bulb depression|rain after the spray)</text>', drawn)
    assert len(texts) == 12
    boxes = [(float(x), float(x) + 5 * len(name), float(y)) for x, y, name in texts]
    for at, (left, right, y) in enumerate(boxes):
        for other_left, other_right, other_y in boxes[at + 1 :]:
            assert abs(y - other_y) >= 12 or right <= other_left or other_right <= left
