"""A limit stored beside windows reads back as it was, whatever its rule."""

import json
import math

import pytest

from jobs.windows.coding import limit_coded, limit_decoded
from jobs.windows.limits import (
    Away,
    Between,
    DryAhead,
    DryBefore,
    Fit,
    Highest,
    Limit,
    Lowest,
    RainAhead,
    Rank,
    Settled,
    Steady,
    Verdict,
    WhereKnown,
)

RULES = [
    Between("wind_mph", 3.0, 10.0),
    Between("humidity_pct", 40.0, math.inf),
    WhereKnown(Between("heat_index_f", -math.inf, 95.0)),
    Lowest("temp_f", 48, 35.0),
    Highest("temp_f", 72, 90.0),
    DryAhead(6, 0.05),
    RainAhead(48, 0.5),
    DryBefore(24, 0.1, "rain_gone", 2),
    Fit("ground"),
    Settled(None),
    Settled(1.5),
    Away((10.0, 20.0), 30.0),
    Steady(4, 45.0),
]


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: type(rule).__name__)
def test_a_limit_goes_through_json_and_back(rule):
    limit = Limit("wind", "wind", "mph", 1.0, rule, "the label", Rank.LABEL, Verdict.STOP)
    assert limit_decoded(json.loads(json.dumps(limit_coded(limit)))) == limit
