"""What a conservation contract asks beside its closed season: room for food plots, the year's share, why one mows.

Sources: NRCS New Mexico CP12 job sheet; Missouri (2019) and Indiana (2010) mid-contract management; FSA Illinois (2017)
and Ohio (2021). Every figure is the contract's own, as typed."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from jobs.facts import Bound

PLANTS = frozenset({"till", "plant", "sow", "overseed"})
DISTURBS = frozenset({"burn", "mow", "spray", "till", "firebreak"})
CAP_SOURCE, SHARE_SOURCE, NESTING_SOURCE = "nrcs-nm-cp12", "missouri-mcm-2019", "fsa-nesting-seasons"
EXACT = 1e-9


@dataclass(frozen=True, slots=True)
class ContractTerms:
    """The figures of a contract that bind single jobs; [first, last) in minutes. None: not typed.

    `share` and `cap_acres` are of food plots in a field of `field_acres`, `least_acres` and `least_width_ft` of each
    of them; `disturb_share` is of `acres` in a year, unless the contract has at most `exempt_acres`."""

    id: int
    practice: str
    first: int
    last: int
    share: float | None = None
    cap_acres: float | None = None
    field_acres: float | None = None
    disturb_share: float | None = None
    acres: float | None = None
    exempt_acres: float | None = None
    source: str = ""
    least_acres: float | None = None
    least_width_ft: float | None = None


def food_plot_room(terms: ContractTerms) -> float | None:
    """The most acres of food plots in the field: the lesser of share and cap; None where the field is not known."""
    if terms.share is None:
        return terms.cap_acres
    if terms.field_acres is None:
        return None
    of_field = terms.share * terms.field_acres
    return of_field if terms.cap_acres is None else min(of_field, terms.cap_acres)


def cap(operation: str, terms: ContractTerms, food_plots: Iterable[float | None]) -> Iterator[Bound]:
    """Work that makes food plots where they would be more than the contract's field has room for."""
    if operation not in PLANTS or (terms.share is None and terms.cap_acres is None):
        return
    sizes, room = list(food_plots), food_plot_room(terms)
    acres = math.fsum(size for size in sizes if size is not None)
    if room is None or None in sizes or acres > room + EXACT:
        yield Bound(
            "food_plot_cap",
            f"contract:{terms.id}",
            terms.first,
            terms.last,
            terms.source or CAP_SOURCE,
            who="manager",
            inputs={"acres": round(acres, 4), "most": None if None in sizes else room, "practice": terms.practice},
        )


def least(operation: str, terms: ContractTerms, acres: float | None, narrowest_ft: float | None) -> Iterator[Bound]:
    """Work that makes a food plot smaller or narrower than the contract allows. What nobody measured is asked for."""
    if operation not in PLANTS:
        return
    small = terms.least_acres is not None and (acres is None or acres < terms.least_acres - EXACT)
    narrow = terms.least_width_ft is not None and (narrowest_ft is None or narrowest_ft < terms.least_width_ft - EXACT)
    if small or narrow:
        yield Bound(
            "food_plot_cap", f"contract:{terms.id}", terms.first, terms.last, terms.source or CAP_SOURCE, who="manager",
            inputs={
                "acres": acres, "least_acres": terms.least_acres, "width_ft": narrowest_ft,
                "least_width_ft": terms.least_width_ft, "practice": terms.practice,
            },
        )  # fmt: skip


def disturbed(jobs: Iterable[tuple[int, str, float | None]]) -> float | None:
    """Acres disturbed by (plot, operation, acres): of each plot once, the largest; firebreaks on top. None: unknown."""
    largest: dict[tuple[int, bool], float] = {}
    for plot, operation, acres in jobs:
        if acres is None:
            return None
        key = (plot, operation == "firebreak")
        largest[key] = max(acres, largest.get(key, 0.0))
    return math.fsum(largest.values())


def share(
    terms: ContractTerms, others: Iterable[tuple[int, str, float | None]], mine: tuple[int, str, float | None],
    *, first: int, last: int, year: int,
) -> Iterator[Bound]:  # fmt: skip
    """Burning, mowing, tilling, spraying beyond the contract's yearly share, firebreaks counted, in a year."""
    if mine[1] not in DISTURBS or terms.disturb_share is None:
        return
    if terms.acres is not None and terms.exempt_acres is not None and terms.acres <= terms.exempt_acres:
        return
    acres = disturbed([*others, mine])
    most = None if terms.acres is None else terms.disturb_share * terms.acres
    if acres is None or most is None or acres > most + EXACT:
        yield Bound(
            "yearly_share",
            f"contract:{terms.id}",
            max(first, terms.first),
            min(last, terms.last),
            terms.source or SHARE_SOURCE,
            who="manager",
            inputs={
                "acres": None if acres is None else round(acres, 4),
                "most": None if most is None else round(most, 4),
                "year": year,
                "practice": terms.practice,
            },
        )


def purpose(operation: str, terms: ContractTerms, said: str) -> Iterator[Bound]:
    """No mowing for looks under a contract, at any time of the year; what it is for has to be said."""
    if operation == "mow" and said in ("", "cosmetic"):
        yield Bound(
            "purpose",
            f"contract:{terms.id}",
            terms.first,
            terms.last,
            terms.source or NESTING_SOURCE,
            who="manager",
            inputs={"purpose": said, "practice": terms.practice},
        )


def firebreak_least_ft(fuel_ft: float, least_ft: float, times: float = 2.0) -> float:
    """The least width of a firebreak: so many times the height of the fuel beside it, and at least the state's own.

    NRCS Missouri 394 (2020): twice the height, at least 4 ft."""
    return max(times * fuel_ft, least_ft)
