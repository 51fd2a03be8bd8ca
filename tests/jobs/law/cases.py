"""For every kind of bound: what makes it and what clears it, by the rules themselves."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from jobs.facts import Bound
from jobs.holds import Clearing, HoldKind
from jobs.law import contract, label, people, zones
from jobs.law.data import ActiveShare, LabelFact, PlantWait, Spray

DAY = 1440
AT = 10 * DAY
JOB = 2

BOTTLE = LabelFact(7, "Bottle", ("glyphosate",), True, 30.0, wash_known=True, wash_before=("clover",))
UNTYPED = LabelFact(8, "Can", ("dicamba",))
SPRAYED = Spray(1, 3, (BOTTLE,), AT - 60, (AT,), True)
TERMS = contract.ContractTerms(4, "CP12", 0, 9999 * DAY)
SHARED = replace(TERMS, disturb_share=0.5, acres=60.0)
FOOD = replace(TERMS, share=0.1, cap_acres=5.0, field_acres=30.0)
GOOD = people.SheetFact(
    permit_needed=True, permit_number="17", permit_issued_on=date(1970, 1, 2), permit_expires_on=date(1970, 1, 9),
    boss=5, least_crew=2, fuel_height_ft=2.5, break_width_ft=5.0, break_least_ft=4.0,
    agency_checked_on=date(1970, 1, 5), agency_county="Lake",
)  # fmt: skip


def utc(day: date) -> int:
    return (day - date(1970, 1, 1)).days * DAY


@dataclass(frozen=True)
class LawCase:
    """`held` binds job 2 at minute `now`; `free` does not, at `later`."""

    kind: HoldKind
    held: Iterable[Bound]
    free: Iterable[Bound]
    how: Clearing
    now: int = AT + 60
    later: int = AT + 60


def _until(kind: HoldKind, bounds: Iterable[Bound], later: int) -> LawCase:
    found = tuple(bounds)
    return LawCase(kind, found, found, Clearing.AT, later=later)


MIX = Spray(JOB, 3, (replace(BOTTLE, shares={"glyphosate": ActiveShare(4.0, "lb", 5.0)}),), rates={7: 1.0})
STRIPS = [label.Strip(2.0, 1, "A1", frozenset({"glyphosate"})), label.Strip(1.0, 2, "B1")]

STAYS = replace(
    SPRAYED, labels=(replace(BOTTLE, plant_back={"soybean": PlantWait(120.0, 1.0)}),), crop="corn", residual=True
)

CASES = [
    _until(HoldKind.ENTRY, label.entry(JOB, None, [SPRAYED]), AT + 30 * 60),
    LawCase(
        HoldKind.ENTRY,
        tuple(label.entry(JOB, None, [replace(SPRAYED, ends=(), finished=False)])),
        tuple(label.entry(JOB, None, [replace(SPRAYED, ends=(AT - 3000,))])),
        Clearing.REPORT,
    ),
    LawCase(HoldKind.LABEL, tuple(label.untyped([UNTYPED])), tuple(label.untyped([BOTTLE])), Clearing.DECISION),
    _until(
        HoldKind.LABEL_WAIT,
        label.waits("till", [replace(SPRAYED, labels=(replace(BOTTLE, till_wait_days=6.0),))]),
        AT + 6 * DAY,
    ),
    _until(HoldKind.LABEL_WAIT, label.plant_backs("soybean", [STAYS], lambda at, inches: AT + DAY), AT + 121 * DAY),
    LawCase(
        HoldKind.LABEL_WAIT,
        tuple(label.plant_backs("soybean", [STAYS], lambda at, inches: None)),
        tuple(label.plant_backs("corn", [STAYS], lambda at, inches: None)),
        Clearing.REPORT,
    ),
    LawCase(
        HoldKind.LABEL,
        tuple(label.plant_backs("clover", [STAYS], lambda at, inches: None)),
        tuple(label.plant_backs("clover", [replace(SPRAYED, residual=False)], lambda at, inches: None)),
        Clearing.DECISION,
    ),
    LawCase(
        HoldKind.TOLERANCE,
        tuple(label.tolerance([BOTTLE], STRIPS, drawn=False, acres=2.0)),
        tuple(label.tolerance([BOTTLE], STRIPS, drawn=True, acres=2.0)),
        Clearing.REPORT,
    ),
    LawCase(
        HoldKind.TOLERANCE,
        tuple(label.tolerance([BOTTLE], STRIPS, drawn=True, acres=3.0)),
        tuple(label.tolerance([BOTTLE], STRIPS[:1], drawn=False, acres=2.0)),
        Clearing.DECISION,
    ),
    LawCase(
        HoldKind.TANK,
        tuple(label.tank([UNTYPED], "clover", label.carried([replace(SPRAYED, machines=frozenset({9}))], {}, [9]), 9)),
        tuple(
            label.tank([UNTYPED], "clover", label.carried([replace(SPRAYED, machines=frozenset({9}))], {9: AT}, [9]), 9)
        ),
        Clearing.REPORT,
    ),
    LawCase(
        HoldKind.SEASON_TOTAL,
        tuple(label.season_totals(MIX, [replace(MIX, job=1, ends=(AT,))], first=0, last=365 * DAY, year=1970)),
        tuple(label.season_totals(MIX, [], first=0, last=365 * DAY, year=1970)),
        Clearing.DECISION,
    ),
    LawCase(
        HoldKind.FOOD_PLOT_CAP,
        tuple(contract.cap("plant", FOOD, [2.0, 1.5])),
        tuple(contract.cap("plant", FOOD, [2.0, 1.0])),
        Clearing.DECISION,
    ),
    LawCase(
        HoldKind.FOOD_PLOT_CAP,
        tuple(contract.least("sow", replace(TERMS, least_acres=0.25, least_width_ft=40.0), 0.3, 39.0)),
        tuple(contract.least("sow", replace(TERMS, least_acres=0.25, least_width_ft=40.0), 0.25, 40.0)),
        Clearing.DECISION,
    ),
    LawCase(
        HoldKind.YEARLY_SHARE,
        tuple(contract.share(SHARED, [(1, "burn", 20.0)], (2, "mow", 11.0), first=0, last=365 * DAY, year=1970)),
        tuple(contract.share(SHARED, [(1, "burn", 20.0)], (2, "mow", 10.0), first=0, last=365 * DAY, year=1970)),
        Clearing.DECISION,
    ),
    LawCase(
        HoldKind.PURPOSE,
        tuple(contract.purpose("mow", TERMS, "cosmetic")),
        tuple(contract.purpose("mow", TERMS, "weeds")),
        Clearing.DECISION,
    ),
    LawCase(
        HoldKind.FIREBREAK,
        tuple(people.firebreak(replace(GOOD, break_width_ft=4.9))),
        tuple(people.firebreak(GOOD)),
        Clearing.DECISION,
    ),
    LawCase(
        HoldKind.PERMIT,
        tuple(people.permit(people.SheetFact(), utc)),
        tuple(people.permit(people.SheetFact(permit_needed=False), utc)),
        Clearing.DECISION,
    ),
    LawCase(
        HoldKind.PERMIT,
        tuple(people.permit(replace(GOOD, permit_issued_on=date(1970, 1, 13)), utc)),
        tuple(people.permit(replace(GOOD, permit_expires_on=date(1970, 1, 20)), utc)),
        Clearing.AT,
    ),
    LawCase(
        HoldKind.CREW, tuple(people.crew(GOOD, None, [5])), tuple(people.crew(GOOD, None, [5, 6])), Clearing.DECISION
    ),
    LawCase(
        HoldKind.SIGNS,
        tuple(people.signs(people.SheetFact(), 50.0, False)),
        tuple(people.signs(people.SheetFact(), 50.0, True)),
        Clearing.DECISION,
    ),
    LawCase(
        HoldKind.AGENCY,
        tuple(people.agency(people.SheetFact(), None, utc)),
        tuple(people.agency(GOOD, None, utc)),
        Clearing.DECISION,
    ),
    LawCase(
        HoldKind.LONE_WORK,
        tuple(people.lone_work(people.SheetFact(), ["fire"], [5])),
        tuple(people.lone_work(people.SheetFact(check_in_minutes=60, contact="Dispatch"), ["fire"], [5])),
        Clearing.DECISION,
    ),
    _until(HoldKind.EXCLUSION_ZONE, zones.exclusion(25.0, [zones.Presence(1, AT, AT + 300, 24.0)]), AT + 300),
    LawCase(
        HoldKind.EXCLUSION_ZONE,
        tuple(zones.exclusion(25.0, [zones.Presence(1, AT, AT + 300, None, begun=True)])),
        tuple(zones.exclusion(25.0, [zones.Presence(1, AT, AT + 300, 25.0, begun=True)])),
        Clearing.REPORT,
    ),
]
