"""One message a person and evening; calls inside their hours and the day's limit; alarms at once."""

import uuid
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from core.evening_text import MOST_A_TRIP, MOST_JOBS
from core.models import Holding, Notice, NoticeState, NoticeWeight, Person, Way
from core.services.evening import fold_due
from core.services.notices import UNHEARD, sweep

pytestmark = pytest.mark.django_db

CHICAGO = ZoneInfo("America/Chicago")
FIRE = {"hazard": "fire", "lines": ["Two people."], "decides": "The burn boss decides."}


def at(text: str, zone: ZoneInfo = CHICAGO) -> datetime:
    """ "2026-05-07 18:00" of the zone."""
    return datetime.fromisoformat(text).replace(tzinfo=zone).astimezone(UTC)


@pytest.fixture
def holding(holding_factory: Callable[..., Holding]) -> Holding:
    return holding_factory(zone="America/Chicago")


def way(person: Person, **fields: Any) -> Way:
    standard = {"holding": person.holding, "person": person, "kind": "mail", "address": f"{uuid.uuid4()}@example.org"}
    return Way.objects.create(**(standard | fields))


def piece(job: int, what: str, place: str = "Mill Bottom", **more: Any) -> dict[str, Any]:
    standard = {
        "job": job,
        "place": place,
        "way_in": "",
        "what": what,
        "news": "Open now.",
        "lines": [],
        "cautions": [],
    }
    return standard | {"rank": job, "pile": "opened"} | more


def put(way: Way, when: datetime, item: dict[str, Any] | None = None, **fields: Any) -> Notice:
    item = item or piece(7, "Mow")
    standard = {
        "holding": way.holding,
        "person": way.person,
        "way": way,
        "way_kind": way.kind,
        "kind": "opened",
        "job_id": item["job"],
        "basis": uuid.uuid4().hex,
        "weight": NoticeWeight.NEWS,
        "payload": {"title": item["what"], "lines": [], "item": item},
        "created_at": when,
        "due_at": when,
    }
    return Notice.objects.create(**(standard | fields))


def evenings() -> list[Notice]:
    return list(Notice.objects.filter(kind="evening").order_by("id"))


def test_news_waits_for_the_evening_and_goes_as_one(helper_person: Person) -> None:
    mail = way(helper_person)
    rows = [put(mail, at("2026-05-07 09:00"), piece(2, "Plant")), put(mail, at("2026-05-07 12:00"), piece(1, "Mow"))]
    assert fold_due(now=at("2026-05-07 17:59")) == 0
    assert fold_due(now=at("2026-05-07 18:00")) == 1
    assert fold_due(now=at("2026-05-07 18:00")) == 0
    (message,) = evenings()
    assert (message.person, message.way, message.basis) == (helper_person, mail, "2026-05-07")
    assert (message.weight, message.state, message.due_at) == ("call", "queued", at("2026-05-07 18:00"))
    assert message.payload["jobs"] == [1, 2]
    assert message.payload["lines"][:3] == ["Mill Bottom.", "1. Mow. Open now.", "2. Plant. Open now."]
    assert {(row.state, row.folded_into_id) for row in Notice.objects.filter(pk__in=[r.pk for r in rows])} == {
        (NoticeState.FOLDED, message.pk)
    }


def test_an_evening_without_news_says_nothing(helper_person: Person) -> None:
    way(helper_person)
    assert fold_due(now=at("2026-05-07 18:00")) == 0
    assert evenings() == []


def test_a_look_days_late_makes_one_message_of_all_missed_evenings(helper_person: Person) -> None:
    mail = way(helper_person)
    for day in (3, 4, 5):
        put(mail, at(f"2026-05-0{day} 12:00"), piece(day, f"Work {day}"))
    assert fold_due(now=at("2026-05-07 09:00")) == 1
    (message,) = evenings()
    assert (message.basis, message.payload["jobs"]) == ("2026-05-06", [3, 4, 5])


def test_news_after_the_message_waits_for_the_next_evening(helper_person: Person) -> None:
    mail = way(helper_person)
    put(mail, at("2026-05-07 12:00"))
    fold_due(now=at("2026-05-07 18:01"))
    put(mail, at("2026-05-07 18:30"), piece(9, "Spray"))
    assert fold_due(now=at("2026-05-07 18:31")) == 0
    assert fold_due(now=at("2026-05-08 18:00")) == 1
    assert [message.payload["jobs"] for message in evenings()] == [[7], [9]]


def test_news_of_a_quiet_evening_goes_within_three_hours_and_no_later(helper_person: Person) -> None:
    mail = way(helper_person)
    put(mail, at("2026-05-07 18:30"))
    assert fold_due(now=at("2026-05-07 18:30")) == 1
    put(mail, at("2026-05-08 21:30"), piece(9, "Spray"))
    assert fold_due(now=at("2026-05-08 21:30")) == 0


def test_each_way_of_a_person_gets_the_message(helper_person: Person) -> None:
    for mail in (way(helper_person), way(helper_person)):
        put(mail, at("2026-05-07 12:00"))
    assert fold_due(now=at("2026-05-07 18:00")) == 2


def test_the_evening_is_the_persons_own_hour_and_zone(helper_person: Person) -> None:
    Person.objects.filter(pk=helper_person.pk).update(zone="America/Denver", evening_at=time(20))
    put(way(helper_person), at("2026-05-07 12:00"))
    assert fold_due(now=at("2026-05-07 20:59")) == 0
    assert fold_due(now=at("2026-05-07 21:00")) == 1


def test_an_evening_in_quiet_hours_goes_at_their_end(helper_person: Person) -> None:
    put(way(helper_person, quiet_from=time(17), quiet_to=time(6)), at("2026-05-07 12:00"))
    assert fold_due(now=at("2026-05-07 18:00")) == 0
    assert fold_due(now=at("2026-05-08 05:59")) == 0
    assert fold_due(now=at("2026-05-08 06:00")) == 1
    assert evenings()[0].basis == "2026-05-07"


@pytest.mark.parametrize("evening_at", [time(1, 30), time(2, 30), time(18)])
@pytest.mark.parametrize(
    ("zone", "day"),
    [
        ("America/Chicago", date(2027, 3, 14)),
        ("America/Chicago", date(2026, 11, 1)),
        ("America/Phoenix", date(2026, 11, 1)),
        ("Australia/Lord_Howe", date(2026, 10, 4)),
        ("Australia/Lord_Howe", date(2027, 4, 4)),
        ("Pacific/Apia", date(2020, 9, 27)),
        ("Pacific/Apia", date(2021, 4, 4)),
    ],
)
def test_on_change_days_each_evening_goes_once(helper_person: Person, zone: str, day: date, evening_at: time) -> None:
    Person.objects.filter(pk=helper_person.pk).update(zone=zone, evening_at=evening_at)
    mail = way(helper_person)
    began = datetime.combine(day, time(), ZoneInfo(zone)).astimezone(UTC)
    went = []
    for quarter in range(-4, 120):
        now = began + timedelta(minutes=15 * quarter)
        put(mail, now, piece(quarter + 10, f"Work {quarter}"))
        if fold_due(now=now):
            went.append(evenings()[-1].basis)
    assert went == sorted(set(went))
    assert went.count(day.isoformat()) == 1


def test_a_holding_whose_clock_stands_is_read_by_it(holding: Holding, helper_person: Person) -> None:
    Holding.objects.filter(pk=holding.pk).update(clock_at=at("2026-05-07 18:30"))
    put(way(helper_person), at("2026-05-07 18:30"))
    assert fold_due(now=at("2030-01-01 03:00")) == 1
    assert evenings()[0].due_at == at("2026-05-07 18:30")


def test_what_waits_for_a_stopped_way_is_withdrawn(helper_person: Person) -> None:
    stopped = way(helper_person, stopped_at=at("2026-05-07 11:00"))
    put(stopped, at("2026-05-07 12:00"))
    put(stopped, at("2026-05-07 12:00"), weight=NoticeWeight.CALL)
    assert fold_due(now=at("2026-05-07 18:00")) == 0
    assert set(Notice.objects.values_list("state", flat=True)) == {NoticeState.WITHDRAWN}


def test_an_alarm_for_a_stopped_way_is_not_taken_back_in_silence(helper_person: Person) -> None:
    """Nobody hears of it, so it is parked, where a manager sees it."""
    row = put(way(helper_person, stopped_at=at("2026-05-07 11:00")), at("2026-05-07 12:00"), weight=NoticeWeight.ALARM)
    assert sweep(now=at("2026-05-07 12:01")).parked == 1
    row.refresh_from_db()
    assert (row.state, row.last_error) == (NoticeState.PARKED, UNHEARD)


def test_withdrawn_news_is_not_told(helper_person: Person) -> None:
    put(way(helper_person), at("2026-05-07 12:00"), state=NoticeState.WITHDRAWN)
    assert fold_due(now=at("2026-05-07 18:00")) == 0


# calls


def test_a_call_in_quiet_hours_waits_for_their_end(helper_person: Person) -> None:
    row = put(
        way(helper_person, quiet_from=time(21), quiet_to=time(6)), at("2026-05-07 23:00"), weight=NoticeWeight.CALL
    )
    fold_due(now=at("2026-05-07 23:00"))
    row.refresh_from_db()
    assert (row.weight, row.due_at) == ("call", at("2026-05-08 06:00"))


def test_an_evening_that_could_not_go_is_not_tried_in_quiet_hours_and_knows_no_limit(helper_person: Person) -> None:
    mail = way(helper_person, quiet_from=time(21), quiet_to=time(6), daily_limit=0)
    put(mail, at("2026-05-07 12:00"))
    fold_due(now=at("2026-05-07 18:00"))
    (message,) = evenings()
    fold_due(now=at("2026-05-07 20:59"))
    message.refresh_from_db()
    assert message.due_at == at("2026-05-07 18:00")
    fold_due(now=at("2026-05-08 02:00"))
    message.refresh_from_db()
    assert (message.weight, message.due_at) == ("call", at("2026-05-08 06:00"))


def test_a_call_whose_sender_died_is_not_sent_in_quiet_hours_either(helper_person: Person) -> None:
    mail = way(helper_person, quiet_from=time(21), quiet_to=time(6))
    over, held = at("2026-05-07 21:01"), timezone.now() + timedelta(minutes=2)
    rows = [
        put(mail, at("2026-05-07 20:58"), weight="call", state="claimed", claim_token=uuid.uuid4(), claimed_until=until)
        for until in (over, held)
    ]
    fold_due(now=at("2026-05-08 02:00"))
    due = [Notice.objects.get(pk=row.pk).due_at for row in rows]
    assert due == [at("2026-05-08 06:00"), at("2026-05-07 20:58")], "one that a sender holds is its own"


def test_calls_above_the_daily_limit_join_the_next_evening(helper_person: Person) -> None:
    mail = way(helper_person, daily_limit=2)
    put(mail, at("2026-05-07 08:00"), weight=NoticeWeight.CALL, state=NoticeState.SENT)
    rows = [put(mail, at(f"2026-05-07 09:0{n}"), piece(n + 1, f"Call {n}"), weight="call") for n in range(3)]
    assert fold_due(now=at("2026-05-07 10:00")) == 0
    weights = [Notice.objects.get(pk=row.pk).weight for row in rows]
    assert weights == ["call", "news", "news"]
    fold_due(now=at("2026-05-07 18:00"))
    assert evenings()[0].payload["jobs"] == [2, 3]


def test_the_limit_counts_from_local_midnight(helper_person: Person) -> None:
    mail = way(helper_person, daily_limit=1)
    put(mail, at("2026-05-06 23:50"), weight=NoticeWeight.CALL, state=NoticeState.SENT)
    row = put(mail, at("2026-05-07 00:10"), weight=NoticeWeight.CALL)
    fold_due(now=at("2026-05-07 00:10"))
    row.refresh_from_db()
    assert row.weight == "call"


def test_an_alarm_knows_neither_quiet_hours_nor_limit(helper_person: Person) -> None:
    mail = way(helper_person, daily_limit=0, quiet_from=time(21), quiet_to=time(6))
    row = put(mail, at("2026-05-07 23:00"), weight=NoticeWeight.ALARM)
    fold_due(now=at("2026-05-07 23:00"))
    row.refresh_from_db()
    assert (row.weight, row.state, row.due_at) == ("alarm", "queued", at("2026-05-07 23:00"))


# text


def test_trips_stand_by_their_first_job_and_cautions_once(helper_person: Person) -> None:
    mail, noon = way(helper_person), at("2026-05-07 12:00")
    put(mail, noon, piece(4, "Burn", "Hill", rank=30, cautions=[FIRE], way_in="The gate"))
    put(mail, noon, piece(5, "Mow", "Bottom", rank=20))
    put(mail, noon, piece(6, "Patrol", "Hill", rank=10, cautions=[FIRE]))
    put(mail, noon, piece(0, "Seed is short", "", news="2 lb are missing.", lines=["Order it."]))
    fold_due(now=at("2026-05-07 18:00"))
    payload = evenings()[0].payload
    assert payload["jobs"] == [6, 4, 5]
    assert payload["title"] == "Thu 7 May: 3 jobs at 2 places, first Patrol"
    assert payload["lines"] == [
        "Hill. Way in: The gate.",
        "1. Patrol. Open now.",
        "2. Burn. Open now.",
        "",
        "Bottom.",
        "3. Mow. Open now.",
        "",
        "Seed is short. 2 lb are missing.",
        "   Order it.",
        "",
        "Care, fire. Two people. The burn boss decides.",
        "Nothing here is permission: label, local code and licensed practice decide.",
    ]


def test_two_pieces_about_one_job_are_one_entry(helper_person: Person) -> None:
    mail, noon = way(helper_person), at("2026-05-07 12:00")
    put(mail, noon, piece(4, "Burn", lines=["Bring water."]))
    put(mail, noon, piece(4, "Burn", news="Its last day nears.", lines=["Bring water.", "Start by Fri 8 May."]))
    fold_due(now=at("2026-05-07 18:00"))
    assert evenings()[0].payload["lines"][1:4] == [
        "1. Burn. Open now. Its last day nears.",
        "   Bring water.",
        "   Start by Fri 8 May.",
    ]


def test_a_late_pile_folds_into_one_line_with_its_cautions(helper_person: Person) -> None:
    mail = way(helper_person)
    for job in range(1, MOST_A_TRIP + 6):
        put(mail, at("2026-05-05 12:00"), piece(job, f"Work {job}", cautions=[FIRE] if job > MOST_A_TRIP else []))
    fold_due(now=at("2026-05-07 18:00"))
    payload = evenings()[0].payload
    assert payload["jobs"] == list(range(1, MOST_A_TRIP + 1))
    assert "5 jobs more at Mill Bottom opened since Tuesday." in payload["lines"]
    assert "Care, fire. Two people. The burn boss decides." in payload["lines"]


def test_a_message_has_a_most_of_jobs_in_full(helper_person: Person) -> None:
    mail = way(helper_person)
    for job in range(1, 41):
        put(mail, at("2026-05-05 12:00"), piece(job, f"Work {job}", f"Place {job % 8}"))
    fold_due(now=at("2026-05-07 18:00"))
    payload = evenings()[0].payload
    assert len(payload["jobs"]) == MOST_JOBS
    assert len(payload["lines"]) < 45


def test_events_of_assigned_days_come_along_once(helper_person: Person) -> None:
    mail, noon = way(helper_person), at("2026-05-07 12:00")
    event = {"uid": "assignment-3", "start": "2026-05-09T14:00:00+00:00", "end": "2026-05-09T16:00:00+00:00"}
    for news in ("Given to you.", "Its last day nears."):
        put(mail, noon, piece(4, "Burn", news=news, events=[event]))
    fold_due(now=at("2026-05-07 18:00"))
    assert evenings()[0].payload["events"] == [event]


def test_news_of_no_known_form_is_told_by_title_and_lines(helper_person: Person) -> None:
    put(way(helper_person), at("2026-05-07 12:00"), payload={"title": "A word", "lines": ["Of somebody."]})
    fold_due(now=at("2026-05-07 18:00"))
    assert evenings()[0].payload["lines"] == ["A word.", "   Of somebody."]


@pytest.mark.django_db(transaction=True)
def test_eight_looks_at_once_make_one_message(helper_person: Person, at_once: Callable[..., list[Any]]) -> None:
    mail = way(helper_person)
    for job in range(1, 11):
        put(mail, at("2026-05-07 12:00"), piece(job, f"Work {job}"))
    made = at_once(lambda: fold_due(now=at("2026-05-07 18:00")))
    assert sorted(made) == [0] * 7 + [1]
    assert len(evenings()) == 1
