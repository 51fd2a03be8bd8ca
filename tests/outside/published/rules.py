"""Rules of law, contract and trade that a function of the program decides by, and the general limits of hours."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.conf import settings

from jobs.graph.data import FAR, NEG
from jobs.law import contract, label, people, zones
from jobs.law.data import LabelFact, Spray
from jobs.reference import limits
from jobs.services.signs import DOWN_HOURS, UP_HOURS
from jobs.windows.catalogue import limits_of
from plots.nesting import read_nesting, season_of
from tests.outside.published import Row, Source

ENTRY = Source("Environmental Protection Agency", "40 CFR 170.112(a): entry, the longest of a mix", "2015")
ZONE = Source(
    "Environmental Protection Agency", "comparison of the application exclusion zone; 89 FR 80767", "2019, 2024"
)
SPOT = Source(
    "Minnesota Department of Agriculture", "records of restricted use: spot applications (7 CFR 110.3)", "undated"
)
CP12 = Source("NRCS New Mexico", "CP12 job sheet, food plots", "2011")
MISSOURI = Source("Missouri Department of Conservation", "mid-contract management", "2019")
INDIANA = Source("NRCS Indiana", "mid-contract management job sheet", "2010")
BREAK_MO = Source("NRCS Missouri", "practice standard 394, firebreak", "2020")
BREAK_FL = Source("NRCS Florida", "practice standard 394, firebreak: twice the flame or 6 ft", "2003")
NEBRASKA = Source("State of Nebraska", "statute 81-520.05, burn permits", "undated")
COSMETIC = Source("Farm Service Agency, Illinois and Ohio", "no cosmetic mowing at any time", "2017, 2021")
SIGNS = Source("Washington State University", "tree-fruit guide: signs before and after", "undated")
CREW = Source("Texas A&M Forest Service; Minnesota DNR", "day-of-burn lists: crew present, boss named", "2020")
NESTING = {
    ("IL", 2020): ("04-15", "08-01", Source("Farm Service Agency", "bulletin in Lincoln Daily News", "2017, 2023")),
    ("IN", 2010): ("04-01", "08-01", Source("Indiana Farm Service Agency", "state newsletter, 19 August", "2025")),
    ("IN", 2005): ("03-01", "07-15", INDIANA),
    ("IA", 2020): ("05-15", "08-01", Source("Waukon Standard; Clarinda Herald", "nesting season", "2025, 2017")),
    ("KS", 2020): ("04-15", "07-15", Source("Kansas USDA service centres", "newsletter, 17 March", "2023")),
    ("MO", 2020): ("05-01", "07-15", Source("University of Missouri", "Missouri Dairy Business Update", "2008")),
    ("OH", 2020): ("03-01", "07-15", Source("Farm and Dairy; Crescent-News", "nesting season", "2009, 2021")),
    ("OK", 2020): ("05-01", "07-01", Source("Oklahoma Farm Service Agency", "release of April", "2018")),
    ("CO", 2020): ("03-15", "07-15", Source("Kiowa County Press", "USDA update", "2016, 2024, 2025")),
}


def nesting(state: str, begins: int) -> tuple[str, str] | None:
    known = read_nesting((settings.FIXTURES / "nesting.toml").read_text(encoding="utf-8"))
    found = season_of(known, state, begins)
    return None if found is None else (found.first, found.last)


def zone(**spray: Any) -> float:
    method, microns, inches = spray["method"], spray.get("microns", 300.0), spray.get("inches", 20.0)
    return zones.exclusion_ft(method, vmd_microns=microns, height_in=inches)


HALF = LabelFact(1, "One", entry_hours=12.0)
TWO_DAYS = LabelFact(2, "Two", entry_hours=48.0)


def entry_ends(*labels: LabelFact) -> int:
    """Minutes after the end of the spray."""
    (bound,) = label.entry(9, None, [Spray(1, 1, labels, 900, (1000,), True)])
    return bound.last - 1000


def food_plots(field: float, acres: float) -> bool:
    """Whether so many acres are too many."""
    terms = contract.ContractTerms(1, "CP12", NEG, FAR, 0.1, 5.0, field)
    return bool(list(contract.cap("plant", terms, [acres])))


def too_small(acres: float, feet: float) -> bool:
    terms = contract.ContractTerms(1, "CP12", NEG, FAR, least_acres=0.25, least_width_ft=40.0)
    return bool(list(contract.least("plant", terms, acres, feet)))


def over_share(acres: float, under: float, exempt: float | None) -> bool:
    terms = contract.ContractTerms(1, "MCM", NEG, FAR, disturb_share=1 / 3, acres=under, exempt_acres=exempt)
    others = [(2, "firebreak", 1.0)]
    return bool(list(contract.share(terms, others, (1, "burn", acres), first=0, last=1, year=1970)))


def permit_ends(issued: date, printed: date) -> date | None:
    sheet = people.SheetFact(permit_issued_on=issued, permit_expires_on=printed, permit_most_days=30)
    return people.permit_last_day(sheet)


def cosmetic(said: str) -> bool:
    return bool(list(contract.purpose("mow", contract.ContractTerms(1, "cover", NEG, FAR), said)))


def short_of_crew(confirmed: list[int], boss: int | None) -> bool:
    return bool(list(people.crew(people.SheetFact(least_crew=3, boss=boss), None, confirmed)))


LAW = [
    Row("an entry time ends to the minute", lambda: entry_ends(HALF), 720, 0, ENTRY),
    Row("of a mix the longest", lambda: entry_ends(HALF, TWO_DAYS), 2880, 0, ENTRY),
    *(
        Row(f"zone of {method}", lambda method=method: zone(method=method), 100.0, 0, ZONE)
        for method in ("aerial", "air_blast", "fumigant", "smoke", "mist", "fog")
    ),
    Row("finer than 294 microns", lambda: zone(method="boom", microns=293.9), 100.0, 0, ZONE),
    Row("from above 12 in", lambda: zone(method="boom", microns=294.0, inches=12.1), 25.0, 0, ZONE),
    Row("at 12 in none", lambda: zone(method="boom", microns=294.0, inches=12.0), 0.0, 0, ZONE),
    Row("under a tenth of an acre", lambda: [zones.is_spot([a]) for a in (0.0999, 0.1)], [True, False], 0, SPOT),
    Row("in no nursery", lambda: zones.is_spot([0.05], nursery=True), False, 0, SPOT),
    Row("a tenth of 40 acres", lambda: [food_plots(40, a) for a in (4.0, 4.01)], [False, True], 0, CP12),
    Row("five acres of 80", lambda: [food_plots(80, a) for a in (5.0, 5.01)], [False, True], 0, CP12),
    Row("at least a quarter of an acre", lambda: [too_small(a, 40) for a in (0.25, 0.24)], [False, True], 0, CP12),
    Row("at least 40 ft wide", lambda: [too_small(1, f) for f in (40, 39.9)], [False, True], 0, CP12),
    Row(
        "a third with the firebreak",
        lambda: [over_share(a, 60, None) for a in (19.0, 19.1)],
        [False, True],
        0,
        MISSOURI,
    ),
    Row(
        "50 acres or less do all", lambda: [over_share(49.0, a, 50.0) for a in (50.0, 51.0)], [False, True], 0, MISSOURI
    ),
    Row("a third of the acreage", lambda: [over_share(a, 30, None) for a in (9.0, 9.1)], [False, True], 0, INDIANA),
    Row("3 ft of fuel", lambda: contract.firebreak_least_ft(3, 4), 6.0, 0, BREAK_MO),
    Row("1 ft of fuel", lambda: contract.firebreak_least_ft(1, 4), 4.0, 0, BREAK_MO),
    Row("2 and 5 ft of flame", lambda: [contract.firebreak_least_ft(f, 6) for f in (2, 5)], [6.0, 10.0], 0, BREAK_FL),
    Row(
        "30 days after its issue",
        lambda: permit_ends(date(2027, 3, 1), date(2027, 4, 20)),
        date(2027, 3, 31),
        0,
        NEBRASKA,
    ),
    Row("for looks never", lambda: [cosmetic("cosmetic"), cosmetic("weeds")], [True, False], 0, COSMETIC),
    Row("signs at most 24 h before", lambda: UP_HOURS, 24.0, 0, SIGNS),
    Row("and down within 3 days", lambda: DOWN_HOURS / 24, 3.0, 0, SIGNS),
    Row(
        "a crew below the plan, or no boss",
        lambda: [short_of_crew(c, b) for c, b in (([1, 2], 1), ([1, 2, 3], None), ([1, 2, 3], 3))],
        [True, True, False],
        0,
        CREW,
    ),
    *(
        Row(
            f"nesting days of {state}, contract of {begins}",
            lambda s=state, b=begins: nesting(s, b),
            (first, last),
            0,
            source,
        )
        for (state, begins), (first, last, source) in NESTING.items()
    ),
]


def band(operation: str, key: str) -> tuple[float | None, float | None]:
    """The ends of a general limit; None where it has none."""
    (limit,) = [one for one in limits_of(operation, limits()) if one.key == key]
    least, most = limit.rule.least, limit.rule.most  # type: ignore[union-attr]
    return (None if least == float("-inf") else least, None if most == float("inf") else most)


OSU = Source("Oklahoma State University Extension", "E-1010: the 60:40 rule for learners", "undated")
KSU = Source("Kansas State University", "no-burn conditions", "undated")
DELTA_T = Source("Bureau of Meteorology, Australia", "Delta-T for spraying, in several re-prints", "undated")
SPRAY_WIND = Source("a general article on spray weather", "3 to 10 mph, stop above 10", "undated")
OSHA = Source("Occupational Safety and Health Administration", "heat index bands: high from 103", "undated")
CHILL = Source("National Weather Service", "wind chill chart: frostbite within 30 minutes at -18 F", "2001")

HOURS = [
    Row("burn below 60 F", lambda: band("burn", "burn_temperature"), (None, 60.0), 0, OSU),
    Row("burn above 40 %, spread ends at 80 %", lambda: band("burn", "burn_humidity"), (40.0, 80.0), 0, OSU),
    Row("burn in 5 to 15 mph", lambda: band("burn", "burn_wind"), (5.0, 15.0), 0, OSU),
    Row("no burn in gusts above 25", lambda: band("burn", "burn_gust"), (None, 25.0), 0, KSU),
    Row("spray in 3 to 10 mph", lambda: band("spray", "spray_wind"), (3.0, 10.0), 0, SPRAY_WIND),
    Row(
        "spray at a depression of 2 to 10 C (3.6 to 18 F)",
        lambda: band("spray", "spray_drying"),
        (3.6, 18.0),
        0,
        DELTA_T,
    ),
    Row("work below the high band", lambda: band("mow", "work_heat"), (None, 103.0), 0, OSHA),
    Row("no work where frostbite takes half an hour", lambda: band("mow", "work_cold"), (-18.0, None), 0, CHILL),
]

ROWS = [*LAW, *HOURS]
