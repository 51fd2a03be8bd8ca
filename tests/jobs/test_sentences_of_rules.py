"""Holds of labels, contracts, zones and floods in plain words."""

from typing import Any

import pytest

from jobs.holds import Clears, Hold, HoldKind
from jobs.holds.kinds import at, by_decision, by_report
from jobs.sentences import sentence
from tests.jobs.test_sentences import MAY_8, MAY_10, NAMES, minute

SAID: list[tuple[HoldKind, Clears, dict[str, Any], str]] = [
    (
        HoldKind.LABEL,
        by_decision("manager"),
        {"material": 7, "spray": 1, "since": MAY_8, "crop": "clover"},
        "glyphosate was sprayed here on Sat 8 May. Not known when clover may follow: type the label's wait.",
    ),
    (
        HoldKind.LABEL_WAIT,
        at(MAY_10),
        {"material": 7, "since": MAY_8, "days": 30, "crop": "clover"},
        "glyphosate was sprayed here on Sat 8 May: the label asks for 30 days before clover.",
    ),
    (
        HoldKind.LABEL_WAIT,
        by_report(None, "rain"),
        {"material": 7, "since": MAY_8, "days": 30, "crop": "", "rain_in": 0.5},
        "glyphosate was sprayed here on Sat 8 May: the label asks for 30 days before another crop, counted after a day"
        " with 0.5 in of rain, and they have not begun.",
    ),
    (
        HoldKind.LABEL_WAIT,
        at(minute(6, 10)),
        {"material": 7, "since": MAY_8, "days": 30, "crop": "clover", "rain_in": 0.5, "begun": minute(5, 12)},
        "glyphosate was sprayed here on Sat 8 May: the label asks for 30 days before clover, counted after a day with"
        " 0.5 in of rain, from Tue 11 May on.",
    ),
    (
        HoldKind.FOOD_PLOT_CAP,
        by_decision("manager"),
        {"acres": 0.2, "width_ft": None, "least_acres": 0.25, "least_width_ft": 40},
        "A food plot under the contract has at least 0.25 acres and 40 ft of width; this one has 0.2 acres and a width"
        " that nobody typed.",
    ),
    (
        HoldKind.FOOD_PLOT_CAP,
        by_decision("manager"),
        {"acres": None, "width_ft": 30, "least_acres": 0.25, "least_width_ft": None},
        "A food plot under the contract has at least 0.25 acres; this one has unknown acres.",
    ),
    (
        HoldKind.EXCLUSION_ZONE,
        at(MAY_10),
        {"other": 3, "begun": True, "feet": 20.0, "until": MAY_10, "radius_ft": 25},
        "Burn, Pond Corner: others are there now until Mon 10 May, 20 ft away. Nobody but the crew of the spray is"
        " within 25 ft while it goes, across the property line too.",
    ),
    (
        HoldKind.EXCLUSION_ZONE,
        at(MAY_10),
        {"other": 3, "begun": False, "feet": None, "until": MAY_10, "radius_ft": 100},
        "Burn, Pond Corner: others are sent there until Mon 10 May, nobody knows how far away (draw both outlines)."
        " Nobody but the crew of the spray is within 100 ft while it goes, across the property line too.",
    ),
    (
        HoldKind.STAND,
        by_report(2, "seen"),
        {"since": MAY_8, "by": "report"},
        "The plot was reported under water (Sat 8 May 09:00). The stand is presumed lost until somebody has seen it.",
    ),
    (
        HoldKind.STAND,
        by_report(2, "seen"),
        {"since": MAY_8, "by": "gauge", "stage_ft": 17.5, "level_ft": 16},
        "The river stood at 17.5 ft (Sat 8 May 09:00); the plot is under water from 16 ft. The stand is presumed lost"
        " until somebody has seen it.",
    ),
    (
        HoldKind.AGENCY,
        by_decision("manager"),
        {},
        "Ask the state wildlife agency for this season and type the day and the county.",
    ),
]


@pytest.mark.parametrize(("kind", "clears", "inputs", "said"), SAID)
def test_a_rule_is_said_in_whole_sentences(kind, clears, inputs, said):
    assert sentence(Hold(kind, 2, "label:7", clears, "", inputs), NAMES) == said
