"""The calculators against published figures, each with its source in the row.

PUBLISHED are figures that stand in the named source; their number is printed. REGRESSION are figures of pages of low
authority or computed from a formula that no publisher states: they keep the arithmetic from moving and prove nothing,
so they are not counted. Left out, because the printed figure does not follow from its own rule: the University of
Wisconsin's 36 ft 2 in for 20-inch rows and 10,000 for the 28-inch hoop (Discovery Farms, 2010), North Carolina's 0.76
ton for 1.2 x 0.625 (buffer-pH table), 11.6 lb for 10 lb of pure live seed at 85.5 percent, and Florida's 20.5 gal/ac
for 18 oz (band-sprayer table, 6754801).
"""

from __future__ import annotations

from typing import NamedTuple

import pytest

from plots.agronomy import feed, fence, fertiliser, lime, machine, seeding, sprayer, stand
from plots.agronomy.calculators import Shelf
from plots.agronomy.measures import convert
from plots.capacity import acres_per_hour
from plots.reference import shelf

PM696 = "Iowa State University Extension PM 696, Estimating Field Capacity of Farm Machines, 2001"
A324 = "Iowa State University Ag Decision Maker A3-24, table 1"
FORAGE = "Progressive Forage, Farm field equipment efficiency versus capacity"
LSU = "LSU AgCenter, Ounces Equal Gallons: Sprayer Calibration"
MESA = "Mesa County, Colorado, Stationary Calibration Method for Boom Sprayers"
HAND = "slides 1/128 Method; Larimer County, Colorado, uses the same plot"
UF = "University of Florida Extension, band-sprayer table 6754801"
DREXEL = "Math Forum, Drexel University"
UT = "University of Tennessee, Checking Corn Populations, 2011"
UW = "University of Wisconsin Extension, Discovery Farms, Taking a Stand Count, 2010"
PENN = "Penn State Extension, Planting considerations and stand assessments"
PURDUE = "Purdue Corn and Soybean Field Guide, in Farm Progress, 18 May 2015"
NCSU = "North Carolina State University, Evaluating Crop Stand"
UGA = "University of Georgia Forages, pure live seed"
LSU_F = "LSU AgCenter soil laboratory, Understanding Fertilizer, 2011"
OCJ = "Ohio's Country Journal, 2016"
NOTES = "course notes, studylib 9809449"
MU = "University of Missouri ag-lime control service and Extension"
NC = "North Carolina Department of Agriculture, buffer-pH table"
ISU_G = "Iowa State University Extension, Glyphosate Math; PNW Handbook, winter wheat"
FENCE = "hunting magazine of Illinois, 20 June 2013, crediting a Maryland agricultural research farm"
MN = "Minnesota Department of Natural Resources, Fence design"
LESSON = "Fencing System Lesson 3, citing Minnesota Statute 344"
MSU = "deer biologist of Mississippi State University, in a hunting magazine"
AGF = "Ohio State University Extension AGF-101, 2017"
WAUSHARA = "Waushara Argus extension column, April 2018"
LOW = "a page of low authority"
CALC = "computed, no publisher states it"


class Row(NamedTuple):
    what: str
    got: float
    expected: float
    within: float
    source: str


def catch(width_in: float) -> float:
    return sprayer.catch_course_ft(width_in)


def row_length(width_in: float) -> float:
    return stand.thousandth_acre_ft(width_in) * 12


def answer(key: str, figure: str, **told: object) -> float:
    """A figure of a calculator, by its key."""
    return next(one.value for one in shelf().calculators[key].answer(told).figures if one.key == figure)


def gdd(*days: tuple[float, float]) -> float:
    return answer("degree-days", "total", days=[{"high": high, "low": low} for high, low in days])


def default(key: str, entry: str) -> float:
    return next(one.default for one in shelf().calculators[key].entries if one.name == entry)


CATCHES = {10: 408, 12: 340, 14: 291, 16: 255, 18: 227, 20: 204, 22: 185, 24: 170, 26: 157, 28: 146, 30: 136}
NITROGEN = (
    ("alfalfa_good", 80, 120, "Nebraska (North Platte NRD)"),
    ("alfalfa_half", 40, 60, "Nebraska (North Platte NRD)"),
    ("dry_bean", 40, 40, "Nebraska (North Platte NRD)"),
    ("alfalfa_wisconsin", 190, 190, "University of Wisconsin"),
    ("alfalfa_minnesota", 150, 150, "University of Minnesota"),
    ("alfalfa_kansas", 100, 140, "Kansas State University"),
)
ANALYSES = {
    "urea": "46-0-0",
    "diammonium_phosphate": "18-46-0",
    "ammonium_sulfate": "21-0-0",
    "triple_superphosphate": "0-46-0",
    "muriate_of_potash": "0-0-60",
    "ammonium_nitrate": "34-0-0",
}

PUBLISHED = [
    Row("spreader 40 ft", acres_per_hour(40, 6, 0.70), 20.4, 0.05, PM696),
    Row("spreader 50 ft", acres_per_hour(50, 6, 0.70), 25.5, 0.05, PM696),
    Row("spreader 60 ft, 6 mph", acres_per_hour(60, 6, 0.68), 29.7, 0.05, A324),
    Row("spreader 60 ft, 12 mph", acres_per_hour(60, 12, 0.68), 59.3, 0.05, A324),
    Row("manure 10 ft", acres_per_hour(10, 5, 0.63), 3.8, 0.05, PM696),
    Row("manure 15 ft", acres_per_hour(15, 5, 0.63), 5.7, 0.05, PM696),
    Row("manure 20 ft", acres_per_hour(20, 6, 0.63), 9.2, 0.05, PM696),
    Row("manure 45 ft", acres_per_hour(45, 5, 0.60), 16.4, 0.05, A324),
    Row("anhydrous, 9 knives 30 in apart", acres_per_hour(9 * 2.5, 5, 0.65), 8.9, 0.05, PM696),
    Row("anhydrous, 13 knives 30 in apart", acres_per_hour(13 * 2.5, 5, 0.65), 12.8, 0.05, PM696),
    Row("plough, 7 x 16 in", acres_per_hour(7 * 16 / 12, 5, 0.85), 4.8, 0.05, PM696),
    Row("chisel plough, 11 ft 3 in", acres_per_hour(11.25, 5.5, 0.85), 6.4, 0.05, PM696),
    Row("30 ft without a stop", acres_per_hour(30, 5, 1.0), 18.2, 0.05, FORAGE),
    Row("30 ft at 80 %", acres_per_hour(30, 5, 0.80), 14.5, 0.05, FORAGE),
    Row("30 ft at 60 %", acres_per_hour(30, 5, 0.60), 10.9, 0.05, FORAGE),
    Row("constant for inches", sprayer.gallons_per_acre(1, 1, 1), 5940, 0, MESA),
    Row("constant for feet", sprayer.gallons_per_acre(1, 1, 12), 495, 0, MESA),
    *(Row(f"1/128 acre, {w} in", catch(w), ft, 1, LSU) for w, ft in CATCHES.items()),
    Row("two nozzles a row, 14 oz on 102 ft", sprayer.caught_gpa(14, catch(40), 40), 14, 1e-9, LSU),
    Row("plot 18.5 x 18.5 ft is 1/128 acre", sprayer.CATCH_SQ_FT, 340, 0.5, HAND),
    Row("40 oz on the plot", sprayer.caught_gpa(40, 34, 120), 40, 0.05, HAND),
    Row("1 qt/ac at 40 gal/ac, oz a gallon", convert(1 / 40, "qt", "fl oz"), 0.8, 0.01, HAND),
    Row("26 oz in 300 ft, band 12 in", sprayer.caught_gpa(26, 300, 12), 29.5, 0.05, UF),
    Row("11 ft in 3 s", machine.speed_mph(11, 3), 2.500, 0.0005, DREXEL),
    Row("16 ft in 1 s", machine.speed_mph(16, 1), 10.909, 0.0005, DREXEL),
    Row("1/1000 acre, 15 in", row_length(15), 34 * 12 + 10, 0.5, UT),
    Row("1/1000 acre, 20 in", row_length(20), 26 * 12 + 2, 0.5, UT),
    Row("1/1000 acre, 30 in", row_length(30), 17 * 12 + 5, 0.5, UT),
    Row("1/1000 acre, 36 in", row_length(36), 14 * 12 + 6, 0.5, UT),
    Row("1/1000 acre, 38 in", row_length(38), 13 * 12 + 9, 0.5, UT),
    Row("1/1000 acre, 22 in", row_length(22), 23 * 12 + 9, 0.5, UW),
    Row("feet of 30-inch row an acre", stand.row_feet_per_acre(30), 17_424, 0, PENN),
    Row("1.7 plants a foot, about", stand.plants_by_walk(1.7, 1, 30), 30_000, 500, PENN),
    *(
        Row(f"places on {ac} ac", stand.samples_for(ac) or 0, n, 0, NCSU)
        for ac, n in ((1, 3), (15, 3), (16, 5), (30, 5))
    ),
    *(Row(f"places on {ac} ac", stand.samples_for(ac) or 0, 7, 0, NCSU) for ac in (31, 50)),
    Row("spacing 30 in, 30,000", seeding.spacing_in(30, 30_000), 7.0, 0.05, PURDUE),
    Row("spacing 30 in, 32,000", seeding.spacing_in(30, 32_000), 6.5, 0.05, PURDUE),
    Row("spacing 30 in, 34,000", seeding.spacing_in(30, 34_000), 6.1, 0.05, PURDUE),
    Row("spacing 20 in, 32,000", seeding.spacing_in(20, 32_000), 9.8, 0.05, PURDUE),
    Row("spacing 15 in, 32,000", seeding.spacing_in(15, 32_000), 13.1, 0.05, PURDUE),
    Row("32,000 at 95 % germination", seeding.seeds_to_drop(30_400, 0.95), 32_000, 1e-6, PURDUE),
    Row(
        "180,000 soybeans of 80 %",
        seeding.seeds_to_drop(180_000, 0.80),
        225_000,
        1e-6,
        "University of Wisconsin author",
    ),
    Row("0.90 x 0.90", seeding.pure_live_seed(0.90, 0.90), 0.81, 1e-4, UGA),
    Row("8-8-8 for a pound", fertiliser.material_lb(1, 8), 12.5, 0, LSU_F),
    Row("15 lb N from 21-0-0", fertiliser.material_lb(15, 21), 71, 0.5, NOTES),
    Row("11.25 lb of 31 %", fertiliser.material_lb(11.25, 31), 36.3, 0.05, NOTES),
    Row("3.75 lb of 46 %", fertiliser.material_lb(3.75, 46), 8.2, 0.05, NOTES),
    Row("200 lb N from 10-10-10", fertiliser.material_lb(200, 10), 2000, 0, "hobby page"),
    *(
        Row(f"equal parts of 18-46-0 and 0-0-60, {name}", got, expected, 0, OCJ)
        for name, got, expected in zip(
            fertiliser.NUTRIENTS, fertiliser.mixed([(1, (18, 46, 0)), (1, (0, 0, 60))]), (9, 23, 30), strict=True
        )
    ),
    Row("held by the number 8 sieve", lime.fineness(0, 0, 0), 0, 0, MU),
    Row("held by number 40", lime.fineness(100, 0, 0), 25, 0, MU),
    Row("held by number 60", lime.fineness(100, 100, 0), 60, 0, MU),
    Row("through number 60", lime.fineness(100, 100, 100), 100, 0, MU),
    Row("1200 of 400 lb a ton", lime.tons_by_enm(1200, 400), 3, 0, MU),
    Row("on the surface at once", default("lime", "most_at_once"), 2, 0, MU),
    Row("from pH 5.0 to 6.0", lime.nc_factor(6.0, 5.0), 0.625, 1e-9, NC),
    Row("0.75 lb ae of 3 lb a gallon, pints", sprayer.product_per_acre(0.75, 3) / 16, 2, 1e-9, ISU_G),
    Row("0.38 lb ae of 3 lb a gallon, pints", sprayer.product_per_acre(0.38, 3) / 16, 1, 0.02, ISU_G),
    Row("from row to row", default("fence", "apart"), 3, 0, FENCE),
    Row("wires of the two rows", answer("fence", "corners", acres=1) / 4, 1 + 2, 0, FENCE),
    Row("ground rods", answer("fence", "rods", acres=1), 3, 0, MN),
    Row("from post to post", default("fence", "posts_apart"), 50, 0, LESSON),
    Row("dry forage for 100 lb of deer", feed.dry_forage_lb(100), 4, 0, MSU),
    Row("degree days 80/60", gdd((80, 60)), 20, 0, AGF),
    Row("degree days 60/40", gdd((60, 40)), 5, 0, AGF),
    Row("degree days 90/70", gdd((90, 70)), 28, 0, AGF),
    Row("degree days 90/65", gdd((90, 65)), 25.5, 0, WAUSHARA),
    Row("degree days 72/46", gdd((72, 46)), 11, 0, WAUSHARA),
    Row("degree days 63/42", gdd((63, 42)), 6.5, 0, WAUSHARA),
    Row("degree days of the three", gdd((90, 65), (72, 46), (63, 42)), 43, 0, WAUSHARA),
]

TIP, BIG = (0.40, 40), (0.80, 40)
BLEND = fertiliser.by_hand((180, 60, 80), (18, 46, 0), (46, 0, 0), (0, 0, 60))
ONE_ACRE = fence.square_sides(1)
OUTER = fence.outside(ONE_ACRE, 3)
SECONDS = {
    88: (30.0, 20.0, 15.0, 12.0, 10.0, 8.6, 7.5),
    100: (34.1, 22.7, 17.0, 13.6, 11.4, 9.7, 8.5),
    200: (68.2, 45.5, 34.1, 27.3, 22.7, 19.5, 17.0),
    300: (102.3, 68.2, 51.1, 40.9, 34.1, 29.2, 25.6),
}

REGRESSION = [
    *(
        Row(f"1/128 acre, {w} in", catch(w), ft, 1, LOW)
        for w, ft in ((32, 127), (34, 120), (36, 113), (38, 107), (40, 102))
    ),
    *(Row(f"0.40 tip at {psi}", sprayer.flow_at(*TIP, psi), gpm, 0.005, LOW) for psi, gpm in ((10, 0.20), (20, 0.28))),
    *(Row(f"0.40 tip at {psi}", sprayer.flow_at(*TIP, psi), gpm, 0.005, LOW) for psi, gpm in ((30, 0.35), (40, 0.40))),
    *(Row(f"0.80 tip at {psi}", sprayer.flow_at(*BIG, psi), gpm, 0.005, LOW) for psi, gpm in ((10, 0.40), (20, 0.57))),
    *(Row(f"0.80 tip at {psi}", sprayer.flow_at(*BIG, psi), gpm, 0.005, LOW) for psi, gpm in ((30, 0.69), (40, 0.80))),
    Row("0.25 gpm, mph x in = 120", sprayer.gallons_per_acre(0.25, 6, 20), 12.38, 0.006, LOW),
    Row("0.63 gpm, mph x in = 120", sprayer.gallons_per_acre(0.63, 6, 20), 31.19, 0.006, LOW),
    Row("0.40 gpm, 6 mph, 20 in", sprayer.gallons_per_acre(0.40, 6, 20), 19.8, 1e-9, CALC),
    Row("0.20 gpm, 5 mph, 20 in", sprayer.gallons_per_acre(0.20, 5, 20), 11.88, 1e-9, CALC),
    Row("0.15 gpm, 4 mph, 20 in", sprayer.gallons_per_acre(0.15, 4, 20), 11.14, 0.005, CALC),
    Row("speed of the LSU example", machine.speed_mph(102, 17), 4.09, 0.005, CALC),
    Row("20 GPA on 14 of 40 in", sprayer.band_gpa(20, 14, 40), 7, 1e-9, LOW),
    Row("1 gal on 1,000 sq ft", sprayer.caught_gpa(128, 1000, 12), 43.56, 1e-9, LOW),
    Row("150 ft in 19.7 s", machine.speed_mph(150, 19.7), 5.2, 0.05, LOW),
    Row("88 ft in 12 s", machine.speed_mph(88, 12), 5.0, 1e-9, "88 ft from memory, 12 s and 5 mph in A3-24"),
    *(
        Row(f"{ft} ft at {mph} mph", machine.seconds_for(ft, mph), s, 0.05, CALC)
        for ft, row in SECONDS.items()
        for mph, s in zip(range(2, 9), row, strict=True)
    ),
    Row("500 gal at 15 GPA", sprayer.tanks(40, 15, 500).acres_per_tank, 33.3, 0.05, LOW),
    Row("40 ac in loads", sprayer.tanks(40, 15, 500).loads, 2, 0, LOW),
    Row("left for load two", sprayer.tanks(40, 15, 500).last_acres, 6.7, 0.05, LOW),
    *(
        Row(f"1/1000 acre, {w} in", stand.thousandth_acre_ft(w), ft, 0.005, CALC)
        for w, ft in ((7, 74.67), (7.5, 69.70), (40, 13.068))
    ),
    Row("150 plants on 100 ft", stand.plants_by_walk(150, 100, 30), 26_136, 1e-6, CALC),
    Row("98 plants on 1/1000 acre", answer("stand-count", "plants", row=15, counts=[98]), 98_000, 1e-6, LOW),
    Row("30,000 at 95 %", seeding.seeds_to_drop(30_000, 0.95), 31_579, 0.5, LOW),
    Row("80,000 at 32,000", seeding.acres_per_bag(80_000, 32_000), 2.5, 0.01, LOW),
    Row("80,000 at 24,000", seeding.acres_per_bag(80_000, 24_000), 3.3, 0.05, LOW),
    Row("80,000 at 40,000", seeding.acres_per_bag(80_000, 40_000), 2.0, 0.01, LOW),
    Row("3.2 ac at 30,000", seeding.whole_bags(3.2 * 30_000, 80_000), 2, 0, CALC),
    Row("hard seed counted", seeding.pure_live_seed(0.98, 0.92, 0.05), 0.9506, 1e-9, LOW),
    Row("3.00 lb live", seeding.bulk_lb(3.0, 0.9506), 3.16, 0.005, LOW),
    Row("0.12 lb live", seeding.bulk_lb(0.12, 0.85 * 0.95), 0.15, 0.005, LOW),
    Row("a pound live of 96 x 80", seeding.bulk_lb(1, 0.96 * 0.80), 1.3, 0.05, LOW),
    Row("live in 50 lb of 98 x 90", 50 * seeding.pure_live_seed(0.98, 0.90), 44.1, 1e-9, LOW),
    Row("a pound live of 50 x 80", seeding.bulk_lb(1, 0.50 * 0.80), 2.5, 1e-9, LOW),
    Row("blend, phosphate", BLEND[0], 130, 1, LOW),
    Row("blend, urea", BLEND[1], 340, 1, LOW),
    Row("blend, potash", BLEND[2], 133, 1, LOW),
    Row("blend in all", sum(BLEND), 603, 2, LOW),
    Row("CCE 90, fineness 60", lime.enm_per_ton(90, 60), 432, 1e-9, CALC),
    Row("basis 80, product 65", lime.tons_by_basis(1, 80, 65), 1.23, 0.005, LOW),
    Row("1 acre round", sum(ONE_ACRE), 834.8, 0.05, CALC),
    Row("3 ft outside it", sum(OUTER), 858.8, 0.05, CALC),
    Row("wire of two rows", answer("fence", "wire", acres=1), 2528.5, 0.1, CALC),
    Row("posts, inner", fence.Row(tuple(ONE_ACRE), 2).posts(50), 20, 0, CALC),
    Row("posts, outer", fence.Row(tuple(OUTER), 1).posts(50), 20, 0, CALC),
    Row("posts of a mile", fence.intervals(5280, 50), 106, 0, CALC),
    Row("a deer of 150 lb", feed.dry_forage_lb(150), 6, 1e-9, CALC),
    Row("both ends below the base", gdd((45, 30)), 0, 0, CALC),
    *(Row(f"1 lb ae of {s} lb", sprayer.product_per_acre(1, s), oz, 0.06, CALC) for s, oz in ((3, 42.7), (4, 32.0))),
    *(Row(f"1 lb ae of {s} lb", sprayer.product_per_acre(1, s), oz, 0.06, CALC) for s, oz in ((4.5, 28.4), (5, 25.6))),
]


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row.what)
def test_a_figure_is_the_published_one(row: Row) -> None:
    assert row.got == pytest.approx(row.expected, abs=row.within + 1e-9), row.source


@pytest.mark.parametrize("row", REGRESSION, ids=lambda row: row.what)
def test_a_figure_stays_what_it_was(row: Row) -> None:
    assert row.got == pytest.approx(row.expected, abs=row.within + 1e-9), row.source


def test_the_row_length_is_said_as_it_is_printed() -> None:
    """University of Tennessee, Checking Corn Populations, 2011; 22 in University of Wisconsin, 2010."""
    printed = {
        15: "34 ft 10 in",
        20: "26 ft 2 in",
        22: "23 ft 9 in",
        30: "17 ft 5 in",
        36: "14 ft 6 in",
        38: "13 ft 9 in",
    }
    assert {w: stand.feet_and_inches(stand.thousandth_acre_ft(w)) for w in printed} == printed


@pytest.mark.parametrize(("key", "low", "high", "source"), NITROGEN)
def test_a_legume_leaves_the_published_nitrogen(key: str, low: int, high: int, source: str) -> None:
    """The lower figure of the source is credited."""
    told = {"nitrogen": 200, "phosphate": 0, "potash": 0, "acres": 1, "materials": [{"analysis": "46-0-0"}]}
    legume = next(e for e in shelf().calculators["fertiliser"].entries if e.name == "legume")
    said = f"{low}" if low == high else f"{low} to {high}"
    assert dict(legume.options)[key].endswith(f"{said} lb/ac"), source
    assert answer("fertiliser", "need_nitrogen", legume=key, **told) == 200 - low


def test_common_materials_carry_the_analyses_of_lsu() -> None:
    """LSU AgCenter soil laboratory, Understanding Fertilizer, 2011."""
    assert dict(shelf().analyses) == ANALYSES


def test_the_tables_state_their_number(capsys: pytest.CaptureFixture[str]) -> None:
    """What is counted as published is what a source prints: none of it is of low authority or only computed."""
    assert not [row.what for row in PUBLISHED if row.source in (LOW, CALC)]
    assert len({row.what for row in PUBLISHED}) == len(PUBLISHED)
    counted = len(PUBLISHED) + len(NITROGEN) + len(ANALYSES)
    with capsys.disabled():
        print(f"\n{counted} published figures of the calculators, {len(REGRESSION)} regression rows beside them")


def test_the_shelf_is_read_once() -> None:
    assert isinstance(shelf(), Shelf)
    assert shelf() is shelf()
