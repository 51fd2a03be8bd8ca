"""Lines of a terminal: narrow, what and where first, each reason once, cautions with who decides."""

from datetime import UTC, date, datetime, time
from typing import Any

import pytest

from core.models import Holding
from jobs.printing import print_clock, print_held, print_message, print_next, print_progress, print_sent

HOLDING = Holding(name="Cold Spring", zone="America/Chicago", units="us")
NOON = datetime(2026, 4, 16, 17, tzinfo=UTC)
FIRE = {"hazard": "fire", "lines": ["Never fewer than two.", "Have water."], "decides": "The burn plan decides."}


def answer(**fields: Any) -> dict[str, Any]:
    plain: dict[str, Any] = {
        "title": "Burn the grass",
        "plot": {"name": "Ridge"},
        "property": {"name": "North", "access": ""},
        "state": "open",
        "state_word": "open",
        "in_hours_now": False,
        "fit_known": True,
        "window": None,
        "earliest_start": NOON,
        "opens_at": NOON,
        "hours": [],
        "hours_note": "",
        "deadline_sentence": "Start by Thu 30 Apr.",
        "minutes": 90,
        "acres_left": 2.0,
        "look_by": None,
        "instruction": "",
        "bring": {"machines": [], "materials": [], "skills": []},
        "least_crew": 1,
        "assigned": [],
        "cautions": [],
        "holds": [],
    }
    return plain | fields


def hold(kind: str, sentence: str, clears: str) -> dict[str, Any]:
    return {"kind": kind, "sentence": sentence, "clears": clears}


def test_clock_says_that_it_stands_or_what_it_shows() -> None:
    standing = Holding(name="Cold Spring", zone="America/Chicago", clock_at=NOON)
    assert print_clock(standing, NOON) == ["Cold Spring. The clock of this holding stands at Thu 16 Apr 2026, 12:00."]
    assert print_clock(HOLDING, NOON) == ["Cold Spring. It is Thu 16 Apr 2026, 12:00."]


def test_job_says_who_else_goes_how_many_it_needs_and_what_to_bring() -> None:
    given = [
        {"to": "Ada", "day": date(2026, 4, 18), "from": time(8), "until": time(11)},
        {"to": "Burn crew", "day": None, "from": None, "until": None},
    ]
    needs = {
        "machines": ["sprayer"],
        "materials": [{"name": "water", "amount": 200.0, "unit": "gal"}],
        "skills": ["burn boss"],
    }
    lines = print_next([answer(assigned=given, least_crew=3, bring=needs)], holding=HOLDING, person="Ada")
    assert "   Bring: sprayer, water 200 gal, somebody certified as burn boss." in lines
    assert "   Given to you for Sat 18 Apr 08:00 to 11:00, Burn crew. At least 3 people." in lines
    assert lines.index("   Start by Thu 30 Apr. Takes 1 h 30 for 2.0 ac.") < lines.index(
        "   Bring: sprayer, water 200 gal, somebody certified as burn boss."
    )


def test_job_that_opens_soon_says_when() -> None:
    (line,) = [each for each in print_next([answer(state="held")], holding=HOLDING, person="Ada") if "Opens" in each]
    assert line == "1. Burn the grass, Ridge, North. Opens Thu 16 Apr 12:00."


def test_many_free_stretches_are_counted_after_the_fourth() -> None:
    hours = [
        {
            "from": datetime(2026, 4, day, 13, tzinfo=UTC),
            "to": datetime(2026, 4, day, 15, tzinfo=UTC),
            "zone": HOLDING.zone,
            "ends": "",
        }
        for day in range(17, 23)
    ]
    told = " ".join(" ".join(print_next([answer(hours=hours)], holding=HOLDING, person="Ada")).split())
    assert "Free: Fri 17 Apr 08:00 to 10:00; Sat 18 Apr 08:00 to 10:00;" in told
    assert "Mon 20 Apr 08:00 to 10:00; and 2 more." in told


def test_each_job_has_its_first_caution_and_the_list_says_once_who_decides() -> None:
    lines = print_next([answer(cautions=[FIRE]), answer(cautions=[FIRE])], holding=HOLDING, person="Ada")
    assert lines.count("   Care, fire: Never fewer than two.") == 2
    assert lines.count("On fire: The burn plan decides.") == 1
    assert lines[-1] == "Nothing here is permission: label, local code and licensed practice decide."


def test_nothing_next_is_said() -> None:
    lines = print_next([], holding=HOLDING, person="Ada")
    assert lines == [
        "",
        "Next for Ada",
        "------------",
        "Nothing is open, and nothing opens by itself within seven days.",
    ]


def test_held_job_says_each_reason_once_with_how_it_clears_unless_the_reason_says_it() -> None:
    holds = [
        hold("machine", "Mower is down, no date.", "Clears by word that it works again."),
        hold("machine", "Mower is down, no date.", "Clears by word that it works again."),
        hold("predecessor", "Waits for: Mow.", "Clears by a report that it is done on: Mow."),
    ]
    lines = print_held([answer(state="held", state_word="held", holds=holds, cautions=[FIRE])], holding=HOLDING)
    assert lines[3:] == [
        "- Burn the grass, Ridge, North. Held.",
        "    Mower is down, no date. Clears by word that it works again.",
        "    Waits for: Mow.",
        "    Start by Thu 30 Apr.",
        "    Care: fire.",
        "Nothing here is permission: label, local code and licensed practice decide.",
    ]
    late = answer(state="lapsed", state_word="too late", deadline_sentence="Too late: it had to start by Fri 10 Apr.")
    assert print_held([late], holding=HOLDING)[3:5] == [
        "- Burn the grass, Ridge, North.",
        "    Too late: it had to start by Fri 10 Apr.",
    ]
    assert print_held([], holding=HOLDING)[-1] == "Nothing is held."


@pytest.mark.parametrize("word", ["long " * 60, "x" * 300])
def test_no_line_is_wider_than_80_columns(word: str) -> None:
    one = answer(title=word, instruction=word, property={"name": word, "access": word}, deadline_sentence=word)
    row = {
        "name": word,
        "jobs": 1234,
        "acres_done": 12345.6,
        "acres_left": 9999.9,
        "smallest_slack_days": -400,
        "states": {"done": 1000, "open": 99, "under_way": 99, "held": 999, "lapsed": 999},
    }
    lines = [
        *print_next([one], holding=HOLDING, person=word),
        *print_held([one | {"holds": [hold("machine", word, word)]}], holding=HOLDING),
        *print_progress([row], by="property"),
        *print_sent([(word, word)]),
    ]
    assert max(len(line) for line in lines) <= 80


def test_reminders_are_listed_or_none() -> None:
    assert print_sent([("Ada", "Open: Mow, Ridge, North")])[3:] == ["- To Ada: Open: Mow, Ridge, North."]
    assert print_sent([])[-1] == "None."


def test_a_message_in_full_keeps_its_indents_and_its_width() -> None:
    lines = print_message("Ben", "Thu 7 May: 1 job", ["Hill.", "1. Mow. Open now.", "   " + "long " * 30, "", "End."])
    assert lines[:6] == ["", "In full, to Ben:", "  Thu 7 May: 1 job", "", "  Hill.", "  1. Mow. Open now."]
    assert lines[6].startswith("     long")
    assert lines[7].startswith("     long")
    assert lines[-2:] == ["", "  End."]
    assert max(map(len, lines)) <= 80
