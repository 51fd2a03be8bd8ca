"""Every hold, state and clearing in plain words: whole sentences, the days of the place, no code."""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from jobs.holds import Clearing, Clears, Hold, HoldKind
from jobs.holds.kinds import at, by_decision, by_report
from jobs.sentences import SENTENCES, STATES, Names, clearing, sentence
from jobs.walk import State

ZONE = "America/Chicago"
NAMES = Names(
    ZONE,
    2027,
    jobs={1: "Burndown, Pond Corner", 2: "Plant, Pond Corner", 3: "Burn, Pond Corner"},
    machines={5: "The planter"},
    materials={7: ("glyphosate", "oz"), 8: ("seed", "bag")},
    observations={"growth": "4 in of growth are seen", "nothing_up": "nothing is up"},
    confirms={"prerequisite:9": "growth"},
)


def minute(month: int, day: int, hour: int = 0, at_minute: int = 0, year: int = 2027) -> int:
    return int(datetime(year, month, day, hour, at_minute, tzinfo=ZoneInfo(ZONE)).timestamp()) // 60


NEVER = Clears(Clearing.NEVER)
MAY_8, MAY_10 = minute(5, 8, 9), minute(5, 10)

SAID: list[tuple[HoldKind, Clears, dict[str, Any], str]] = [
    (
        HoldKind.PREDECESSOR,
        by_report(1, "done"),
        {"predecessor": 1, "end": "done"},
        "Waits for: Burndown, Pond Corner.",
    ),
    (
        HoldKind.PREDECESSOR,
        by_report(1, "start"),
        {"predecessor": 1, "end": "start"},
        "Waits for: Burndown, Pond Corner, to be begun.",
    ),
    (
        HoldKind.PREDECESSOR,
        by_report(1, "done"),
        {"predecessor": 1, "end": "done", "or": [3]},
        "Waits for one of these: Burndown, Pond Corner; Burn, Pond Corner.",
    ),
    (
        HoldKind.LAG,
        at(MAY_10),
        {"predecessor": 1, "since": MAY_8},
        "Waits until Mon 10 May after: Burndown, Pond Corner (Sat 8 May).",
    ),
    (
        HoldKind.LAG,
        at(MAY_10, predicted=True),
        {"predecessor": 1, "since": MAY_8},
        "Waits until Mon 10 May: Burndown, Pond Corner is under way, expected to end by Sat 8 May 09:00.",
    ),
    (
        HoldKind.LAG,
        at(minute(5, 17), predicted=True),
        {"predecessor": 2, "since": MAY_8, "need": 10_000, "counted": 3_450},
        "Waits 34 of 100 degree days after: Plant, Pond Corner (Sat 8 May). Expected by Mon 17 May.",
    ),
    (
        HoldKind.LAG,
        at(minute(5, 17), predicted=True),
        {"predecessor": 2, "since": MAY_8, "need": 10_000, "counted": None, "likely": minute(5, 18)},
        "Waits 100 degree days after: Plant, Pond Corner (Sat 8 May). Expected Sun 16 May to Mon 17 May;"
        " look by the evening of Mon 17 May.",
    ),
    (
        HoldKind.LOOK,
        by_report(2, "seen"),
        {"due": MAY_10},
        "Waits until 4 in of growth are seen; a look closes it, no clock does. Look from Mon 10 May on.",
    ),
    (
        HoldKind.LOOK,
        by_report(2, "seen"),
        {"due": MAY_10, "in_vain": True},
        "Waits until 4 in of growth are seen; a look closes it, no clock does. The last look was in vain. Look again on"
        " Mon 10 May.",
    ),
    (
        HoldKind.LOOK,
        by_report(2, "seen"),
        {"due": MAY_8, "likely": minute(5, 11)},
        "Waits until 4 in of growth are seen; a look closes it, no clock does. Look by the evening of Mon 10 May.",
    ),
    (
        HoldKind.RAIN,
        by_report(None, "rain"),
        {"need": 50, "predecessor": 1},
        "Waits for 0.5 in of rain on one day after: Burndown, Pond Corner.",
    ),
    (HoldKind.SEASON, at(MAY_10), {}, "Its days begin on Mon 10 May."),
    (
        HoldKind.CONTRACT,
        at(MAY_10),
        {"reason": "nesting"},
        "Closed season of the contract (nesting). The contract decides.",
    ),
    (HoldKind.QUIET, at(MAY_10), {"reason": "turkey season"}, "Quiet days: turkey season. Nobody enters."),
    (HoldKind.BAN, at(MAY_10), {"reason": "the culvert"}, "Closed by the manager: the culvert."),
    (HoldKind.TENURE, NEVER, {"from": MAY_10}, "The right to work this land ended on Sun 9 May."),
    (
        HoldKind.NO_FIT,
        at(MAY_10),
        {"minutes": 90},
        "It does not fit before its days close; 1.5 h are needed in one go.",
    ),
    (HoldKind.NO_FIT, NEVER, {"minutes": 90}, "No day is left on which it may be done."),
    (
        HoldKind.TOO_EARLY,
        at(MAY_10, predicted=True),
        {},
        "Too early: what follows must come soon after it. Not before Mon 10 May.",
    ),
    (
        HoldKind.QUESTION,
        by_report(1, "done"),
        {"successor": 2},
        "Reported: Plant, Pond Corner. Was this, before it, done, skipped, or still to do?",
    ),
    (
        HoldKind.TROUBLE,
        by_report(1, "start or done"),
        {"reason": "wind", "at": MAY_8},
        "Could not be done on Sat 8 May: wind.",
    ),
    (
        HoldKind.TROUBLE,
        by_report(1, "start or done"),
        {"reason": "", "at": MAY_8},
        "Could not be done on Sat 8 May: no reason given.",
    ),
    (
        HoldKind.TROUBLE,
        by_report(1, "start or done"),
        {"reason": "nothing_up", "at": MAY_8},
        "Looked on Sat 8 May: nothing is up. It is asked for again.",
    ),
    (
        HoldKind.MACHINE,
        at(MAY_10),
        {"machine": 5, "kind": "planter", "state": "on_loan"},
        "The planter is on loan until Mon 10 May.",
    ),
    (
        HoldKind.MACHINE,
        by_report(None, "machine"),
        {"machine": 6, "kind": "planter", "state": "down"},
        "planter is down, no date.",
    ),
    (
        HoldKind.MATERIAL,
        by_report(None, "stock"),
        {"material": 8, "needed": 7.5, "stock": 4},
        "Too little seed: needs 7.5 bag, in stock 4.",
    ),
    (
        HoldKind.SPRAYED,
        by_decision("manager"),
        {"active": "imazapic", "at": MAY_8, "note": "Long in dry soil."},
        "Imazapic was sprayed here on Sat 8 May. Long in dry soil. The label decides.",
    ),
    (
        HoldKind.SPRAYED,
        by_decision("manager"),
        {"active": "atrazine and S-metolachlor", "at": MAY_8},
        "Atrazine and S-metolachlor were sprayed here on Sat 8 May. The label decides.",
    ),
    (HoldKind.SKILL, by_decision("manager"), {"skill": "burn boss"}, "Nobody with a valid certificate: burn boss."),
    (HoldKind.CONSENT, by_decision("the owner"), {"whose": "the owner"}, "Needs the yes of the owner."),
    (
        HoldKind.PAUSED,
        by_report(3, "done"),
        {"started": 3},
        "Set aside: the other way was begun (Burn, Pond Corner).",
    ),
    (HoldKind.ENTRY, by_report(1, "done"), {"spray": 1}, "Being sprayed: Burndown, Pond Corner. Nobody else enters."),
    (
        HoldKind.ENTRY,
        at(minute(5, 10, 9)),
        {"since": MAY_8, "material": 7, "hours": 48},
        "Sprayed until Sat 8 May 09:00; glyphosate closes it for 48 h. Nobody enters before Mon 10 May 09:00.",
    ),
    (HoldKind.LABEL, by_decision("manager"), {"material": 7}, "Type the label's entry time of glyphosate first."),
    (
        HoldKind.LABEL,
        by_decision("manager"),
        {"material": 7, "spray": 1, "since": MAY_8},
        "glyphosate was sprayed here until Sat 8 May 09:00. Not known when anybody may enter: type the label's entry"
        " time.",
    ),
    (
        HoldKind.LABEL_WAIT,
        at(MAY_10),
        {"since": MAY_8, "days": 30},
        "Sprayed on Sat 8 May: the label asks for 30 days before this.",
    ),
    (
        HoldKind.TOLERANCE,
        by_report(1, "strips_drawn"),
        {"active": "glyphosate", "lots": ["B", "C"], "blocked": None, "free": 0, "drawn": False, "planted": 4},
        "No glyphosate here: the crop does not stand it, or its lot is not known (lot B, C).",
    ),
    (
        HoldKind.TOLERANCE,
        by_report(1, "strips_drawn"),
        {"active": "glyphosate", "lots": ["B"], "blocked": 1.5, "free": 2.5, "drawn": False, "planted": 4},
        "No glyphosate on 1.5 of 4 acres (lot B), and on none of them until the strip is drawn.",
    ),
    (
        HoldKind.TOLERANCE,
        by_decision("manager"),
        {"active": "glyphosate", "lots": ["B"], "blocked": 1.5, "free": 2.5, "drawn": True, "planted": 4},
        "No glyphosate on 1.5 of 4 acres (lot B). Set the job's acres to 2.5 to do the rest.",
    ),
    (
        HoldKind.TANK,
        by_report(None, "sprayer_washed"),
        {"material": 7, "since": MAY_8, "crop": "clover", "known": True},
        "The sprayer carries glyphosate since Sat 8 May: wash it before clover.",
    ),
    (
        HoldKind.TANK,
        by_report(None, "sprayer_washed"),
        {"material": 99, "since": MAY_8, "crop": "", "known": False},
        "The sprayer carries material since Sat 8 May; not known what it may spray next.",
    ),
    (
        HoldKind.SEASON_TOTAL,
        NEVER,
        {"active": "atrazine", "sum": None, "most": 2.5, "unit": "lb", "year": 2027},
        "Not known how much atrazine this makes: type rates and contents; the label allows 2.5 lb an acre in 2027.",
    ),
    (
        HoldKind.SEASON_TOTAL,
        NEVER,
        {"active": "atrazine", "sum": 3, "most": 2.5, "unit": "lb", "year": 2027},
        "With this it would be 3 lb of atrazine an acre; the label allows 2.5 lb an acre in 2027.",
    ),
    (
        HoldKind.FOOD_PLOT_CAP,
        by_decision("manager"),
        {"acres": 4.01, "most": 4},
        "Food plots here are 4.01 acres; the contract allows 4.",
    ),
    (
        HoldKind.FOOD_PLOT_CAP,
        by_decision("manager"),
        {"acres": 4.01, "most": None},
        "Type the acres of the field: the contract allows a share of them as food plots.",
    ),
    (
        HoldKind.YEARLY_SHARE,
        by_decision("manager"),
        {"acres": 30, "most": 20, "year": 2027},
        "With this 30 acres would be disturbed in 2027; the contract allows 20, firebreaks counted.",
    ),
    (
        HoldKind.YEARLY_SHARE,
        by_decision("manager"),
        {"acres": None, "most": 20, "year": 2027},
        "Type the acres under contract and of the jobs: the contract allows a share of them in a year.",
    ),
    (
        HoldKind.PURPOSE,
        NEVER,
        {"purpose": "looks", "practice": "native grass"},
        "No mowing for looks under the contract (native grass), at any time of the year.",
    ),
    (
        HoldKind.PURPOSE,
        by_decision("manager"),
        {"purpose": "", "practice": "native grass"},
        "Say what the mowing is for: the contract (native grass) allows none for looks.",
    ),
    (
        HoldKind.FIREBREAK,
        by_decision("manager"),
        {"least_ft": None, "width_ft": 4, "fuel_ft": None},
        "Not known whether the firebreak is wide enough: type the fuel's height, the width, the state's least.",
    ),
    (
        HoldKind.FIREBREAK,
        by_decision("manager"),
        {"least_ft": 6, "width_ft": None, "fuel_ft": 3},
        "The firebreak is not measured; 6 ft are needed beside fuel of 3 ft.",
    ),
    (
        HoldKind.FIREBREAK,
        by_decision("manager"),
        {"least_ft": 6, "width_ft": 5, "fuel_ft": 3},
        "The firebreak is 5 ft wide; 6 ft are needed beside fuel of 3 ft.",
    ),
    (
        HoldKind.PERMIT,
        by_decision("manager"),
        {"needed": None, "lacks": []},
        "Ask whether a burn permit is needed here, and type the answer.",
    ),
    (
        HoldKind.PERMIT,
        by_decision("manager"),
        {"needed": True, "lacks": ["number", "last day"]},
        "The burn permit lacks: number, last day.",
    ),
    (
        HoldKind.PERMIT,
        at(MAY_10),
        {"needed": True, "lacks": []},
        "The burn permit is valid from Mon 10 May on.",
    ),
    (
        HoldKind.PERMIT,
        NEVER,
        {"needed": True, "lacks": [], "ended": MAY_10},
        "The burn permit ended with Sun 9 May.",
    ),
    (
        HoldKind.CREW,
        by_decision("manager"),
        {"least": None},
        "Type the least crew of the burn plan.",
    ),
    (
        HoldKind.CREW,
        by_decision("manager"),
        {"least": 3, "crew": 2, "boss": False, "boss_comes": False},
        "The plan needs a crew of 3; 2 confirmed. Name the burn boss.",
    ),
    (
        HoldKind.CREW,
        by_decision("manager"),
        {"least": 3, "crew": 3, "boss": True, "boss_comes": False},
        "The plan needs a crew of 3; 3 confirmed. The burn boss is not among them.",
    ),
    (
        HoldKind.CREW,
        by_decision("manager"),
        {"least": 3, "crew": 2, "boss": True, "boss_comes": True},
        "The plan needs a crew of 3; 2 confirmed.",
    ),
    (
        HoldKind.SIGNS,
        by_report(1, "done"),
        {"hours": 72},
        "The label closes it for 72 h, so signs go up first and come down after.",
    ),
]


@pytest.mark.parametrize(("kind", "clears", "inputs", "said"), SAID)
def test_a_hold_is_said_in_whole_sentences(kind, clears, inputs, said):
    assert sentence(Hold(kind, 2, "prerequisite:9", clears, "", inputs), NAMES) == said


def test_every_kind_has_its_sentence_and_every_state_its_words():
    assert set(SENTENCES) == set(HoldKind)
    assert set(STATES) == {str(state) for state in State}


@pytest.mark.parametrize(
    ("clears", "said"),
    [
        (at(MAY_8), "Clears Sat 8 May 09:00."),
        (at(MAY_10, predicted=True), "Clears expected Mon 10 May."),
        (by_report(1, "done"), "Clears by a report that it is done on: Burndown, Pond Corner."),
        (by_report(None, "rain"), "Clears by rain in the gauge."),
        (by_report(None, "stand_count"), "Clears by a report: stand count."),
        (NEVER, "Does not clear."),
    ],
)
def test_what_clears_it_is_said_too(clears, said):
    assert clearing(Hold(HoldKind.LAG, 2, "prerequisite:9", clears), NAMES) == said


def test_who_decides_is_named():
    assert "owner" in clearing(Hold(HoldKind.CONSENT, 2, "consent:1", by_decision("the owner")), NAMES)


def test_another_year_is_said_and_an_unknown_job_has_no_number():
    assert NAMES.day(minute(1, 2, year=2028)) == "Sun 2 Jan 2028"
    assert NAMES.job(77) == NAMES.job(None) == "another job"
