"""Lime by the state's own measure of it, in as many turns as may go on at once.

Missouri: effective neutralizing material in lb a ton is CCE/100 x fineness/100 x 800, and fineness counts what the
number 8 sieve holds as 0, number 40 as 25, number 60 as 60 and what passes number 60 as 100 percent (University of
Missouri ag-lime control service). Other states give tons of a basis (percent of effective calcium carbonate, or pounds
of effective neutralizing power a ton). North Carolina works from the acidity on the report."""

from __future__ import annotations

import math
from collections.abc import Sequence

SURFACE_MOST_TONS = 2.0
"""Tons an acre on the surface at once; the rest 2 to 3 years later (University of Missouri)."""
NC_BUFFERED_PH = 6.6


def fineness(through_8: float, through_40: float, through_60: float) -> float:
    """The Missouri fineness factor in percent, from the percentages that pass each sieve."""
    return 0.25 * (through_8 - through_40) + 0.60 * (through_40 - through_60) + through_60


def enm_per_ton(carbonate_pct: float, fineness_pct: float) -> float:
    """Missouri's effective neutralizing material, lb a ton."""
    return carbonate_pct / 100 * fineness_pct / 100 * 800


def tons_by_enm(required_lb_per_acre: float, product_lb_per_ton: float) -> float:
    return required_lb_per_acre / product_lb_per_ton


def tons_by_basis(recommended_tons: float, basis: float, product: float) -> float:
    """Tons of this product where the recommendation is in tons of another strength, both in one measure."""
    return recommended_tons * basis / product


def nc_factor(target_ph: float, ph: float) -> float:
    """North Carolina: the share of the acidity to be neutralised (Department of Agriculture, buffer pH)."""
    return (target_ph - ph) / (NC_BUFFERED_PH - ph)


def turns(tons_per_acre: float, most_at_once: float) -> Sequence[float]:
    """Tons an acre of each turn: equal ones, as few as the most at once allows."""
    count = max(1, math.ceil(tons_per_acre / most_at_once - 1e-9))
    return [tons_per_acre / count] * count
