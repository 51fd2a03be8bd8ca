"""One piece of news as a message of its own, and many as one."""

from datetime import date
from typing import Any

from core.evening_text import NOT_PERMISSION, alone, together

FIRE = {"hazard": "fire", "lines": ["Two people."], "decides": "The burn boss decides."}


def piece(job: int = 7, **more: Any) -> dict[str, Any]:
    standard = {"job": job, "place": "Hill", "way_in": "", "what": f"Work {job}", "news": "Open now.", "lines": []}
    return standard | {"cautions": [], "rank": job, "pile": "opened"} | more


def test_a_piece_alone_has_its_number_its_cautions_and_who_decides() -> None:
    told = alone(piece(what="Burn, East unit", way_in="By the mill", lines=["Bring water."], cautions=[FIRE]))
    assert told["title"] == "Open now: Burn, East unit"
    assert told["jobs"] == [7]
    assert told["lines"][:6] == [
        "Hill. Way in: By the mill.",
        "1. Burn, East unit. Open now.",
        "   Bring water.",
        "",
        "Care, fire. Two people. The burn boss decides.",
        NOT_PERMISSION,
    ]


def test_a_job_that_is_only_named_has_no_number_to_answer_by() -> None:
    told = alone(piece(plain=True, news="A look is due.", why=["Waits until the crop is up."]))
    assert told["jobs"] == []
    assert told["lines"] == ["Hill.", "- Work 7. A look is due. Waits until the crop is up."]


def test_with_other_news_a_named_job_gets_its_number() -> None:
    told = together(date(2026, 5, 7), [piece(plain=True), piece(news="Its last day nears.")], date(2026, 5, 7))
    assert told["jobs"] == [7]


def test_the_same_reason_is_said_once_a_job() -> None:
    pieces = [piece(news="A look is due.", why=["Waits."]), piece(news="Its last day nears.", why=["Waits.", "Wet."])]
    told = together(date(2026, 5, 7), pieces, date(2026, 5, 7))
    assert told["lines"][1] == "1. Work 7. A look is due. Its last day nears. Waits. Wet."


def test_a_pile_of_the_same_day_says_today_and_one_of_several_kinds_says_news() -> None:
    pieces = [piece(job, pile="opened" if job < 8 else "need a look") for job in range(1, 9)]
    told = together(date(2026, 5, 7), pieces, date(2026, 5, 7))
    assert told["lines"][6] == "3 jobs more at Hill have news today."
    assert together(date(2026, 5, 7), pieces[:6], date(2026, 5, 5))["lines"][6] == (
        "1 job more at Hill opened since Tuesday."
    )


def test_news_of_no_job_alone_makes_the_title() -> None:
    short = piece(0, place="", what="Seed runs short", news="6 lb are missing.")
    told = together(date(2026, 5, 7), [short], date(2026, 5, 7))
    assert (told["title"], told["lines"]) == ("Thu 7 May: Seed runs short", ["Seed runs short. 6 lb are missing."])
