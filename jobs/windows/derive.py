"""Quantities worked out from those that are given: humid air, felt heat and cold. Missing in, missing out."""

from __future__ import annotations

import numpy as np

from jobs.windows.hours import Hours
from plots.agromet.felt import heat_index_f, wind_chill_f
from plots.agromet.humid import relative_humidity_pct, wet_bulb_depression_c


def with_derived(hours: Hours) -> Hours:
    """The same hours with `wet_bulb_depression_f`, `heat_index_f`, `felt_cold_f`, and with humidity filled in from the
    dew point where only that is given."""
    temp, dew = hours.of("temp_f"), hours.of("dew_point_f")
    humidity = hours.of("humidity_pct")
    from_dew = relative_humidity_pct(_celsius(temp), _celsius(dew))
    humidity = np.where(np.isnan(humidity), from_dew, humidity)
    chill = wind_chill_f(temp, hours.of("wind_mph"))
    # Where wind chill is not defined (warm or still) the air feels no colder than it is; without wind it is not known.
    cold = np.where(np.isnan(chill) & ~np.isnan(hours.of("wind_mph")), temp, chill)
    more = {
        "humidity_pct": humidity,
        "wet_bulb_depression_f": 1.8 * wet_bulb_depression_c(_celsius(temp), humidity),
        "heat_index_f": heat_index_f(temp, humidity),
        "felt_cold_f": cold,
    }
    return Hours(hours.first, hours.places, hours.count, {**hours.values, **more})


def _celsius(fahrenheit: np.ndarray) -> np.ndarray:
    return (fahrenheit - 32.0) / 1.8
