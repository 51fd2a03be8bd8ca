"""Fold a person's news into one message an evening, and keep calls to quiet hours and the day's limit."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

from django.db import transaction
from django.db.models import Min, Q, QuerySet
from django.utils import timezone

from core.evening_text import together
from core.models import Notice, NoticeState, NoticeWeight
from core.sending_hours import EVENING_LASTS, last_evening, local_date, next_allowed, wall
from core.services.facts import lock_graph

EVENING = "evening"
LOOK = 2000
"""Calls that one look holds to their hours, the oldest first: more than any sweep sends."""


@dataclass(frozen=True, slots=True)
class _Pile:
    """The news that waits for one person by one way, and the evening that has come for it."""

    holding: int
    person: int
    way: int | None
    day: date
    until: datetime
    at: datetime
    zone: str


def fold_due(*, now: datetime) -> int:
    """Fold the waiting news of each person and way whose evening has come into one notice. Returns how many were made.

    News of an evening is what came before it or within three hours after, if nothing went that evening yet; a look
    that is hours or days late makes one message, not one per evening missed. Calls that are due in quiet hours wait for
    their end, and so does an evening's message that is tried again; calls above the way's daily limit become news;
    alarms know neither. What waits for a stopped way, alarms excepted, and news for a person who left, is withdrawn. A
    holding whose clock stands is read by that clock.
    """
    _withdraw_unwanted()
    _keep_calls_to_their_hours(now)
    return sum(_fold(pile) for pile in _due(now))


def _unsent() -> QuerySet[Notice]:
    # The condition is the one of the partial index, word for word; SQLite uses it for no other.
    return Notice.objects.filter(state__in=[NoticeState.QUEUED, NoticeState.CLAIMED])


def _waiting() -> QuerySet[Notice]:
    return _unsent().filter(state=NoticeState.QUEUED)


def _withdraw_unwanted() -> None:
    stopped = Q(way__stopped_at__isnull=False) & ~Q(weight=NoticeWeight.ALARM)
    left = Q(person__active=False, weight=NoticeWeight.NEWS)
    gone = list(_waiting().filter(stopped | left).values_list("pk", flat=True)[:LOOK])
    if gone:
        Notice.objects.filter(pk__in=gone, state=NoticeState.QUEUED).update(state=NoticeState.WITHDRAWN)


# calls


def _keep_calls_to_their_hours(now: datetime) -> None:
    columns = (
        "pk", "kind", "state", "way_id", "due_at", "attempts", "holding__clock_at", "holding__zone", "person__zone",
        "way__quiet_from", "way__quiet_to", "way__daily_limit",
    )  # fmt: skip
    due = Q(holding__clock_at=None, due_at__lte=now) | Q(holding__clock_at__isnull=False)
    free = Q(state=NoticeState.QUEUED) | Q(claimed_until__lte=timezone.now())  # or whoever held it is gone
    calls = _unsent().filter(due, free, weight=NoticeWeight.CALL, way__isnull=False)
    rows = list(calls.order_by("due_at", "pk").values(*columns)[:LOOK])
    rows = [row for row in rows if row["due_at"] <= _clock(row, now)]
    gone = _went(rows, now)
    later: dict[datetime, list[int]] = defaultdict(list)
    above = []
    for row in rows:
        at = _clock(row, now)
        allowed = next_allowed(at, _zone(row), row["way__quiet_from"], row["way__quiet_to"])
        if allowed > at:
            later[allowed].append(row["pk"])
        elif row["kind"] == EVENING or row["state"] == NoticeState.CLAIMED:  # no limit, or counted as gone
            continue
        elif gone[row["way_id"]] >= row["way__daily_limit"] and not row["attempts"]:
            above.append(row["pk"])
        else:
            gone[row["way_id"]] += 1
    for allowed, ids in later.items():
        _unsent().filter(pk__in=ids).update(due_at=allowed)
    if above:
        _waiting().filter(pk__in=above).update(weight=NoticeWeight.NEWS)


def _went(rows: Iterable[Mapping[str, Any]], now: datetime) -> dict[int, int]:
    """By way: calls that left, or are leaving, in the local day of its person."""
    began = {}
    for row in rows:
        zone = _zone(row)
        began[row["way_id"]] = wall(zone, local_date(zone, _clock(row, now)), time())
    found: dict[int, int] = defaultdict(int)
    if not began:
        return found
    left = Notice.objects.filter(way__in=list(began), weight=NoticeWeight.CALL, due_at__gte=min(began.values()))
    left = left.filter(state__in=[NoticeState.SENT, NoticeState.CLAIMED, NoticeState.PARKED]).exclude(kind=EVENING)
    for way, due_at in left.values_list("way_id", "due_at"):
        found[way] += due_at >= began[way]
    return found


# evenings


def _due(now: datetime) -> list[_Pile]:
    """Piles whose evening has come and that no message of that evening took along, in a fixed order."""
    columns = (
        "holding_id", "person_id", "way_id", "holding__clock_at", "holding__zone", "person__zone",
        "person__evening_at", "way__quiet_from", "way__quiet_to",
    )  # fmt: skip
    piles = []
    groups = _waiting().filter(weight=NoticeWeight.NEWS).order_by().values(*columns).annotate(oldest=Min("created_at"))
    for row in groups:
        at, zone = _clock(row, now), _zone(row)
        quiet = row["way__quiet_from"], row["way__quiet_to"]
        day, instant = last_evening(at, zone, row["person__evening_at"], *quiet)
        until = max(instant, wall(zone, day, row["person__evening_at"]) + EVENING_LASTS)
        if row["oldest"] <= until and next_allowed(at, zone, *quiet) == at:
            piles.append(_Pile(row["holding_id"], row["person_id"], row["way_id"], day, until, at, zone))
    people, days = {pile.person for pile in piles}, {pile.day.isoformat() for pile in piles}
    sent = Notice.objects.filter(kind=EVENING, person__in=people, basis__in=days)
    went = set(sent.values_list("person_id", "way_id", "basis"))
    piles = [pile for pile in piles if (pile.person, pile.way, pile.day.isoformat()) not in went]
    return sorted(piles, key=lambda pile: (pile.holding, pile.person, pile.way or 0))


def _fold(pile: _Pile) -> int:
    with transaction.atomic():
        lock_graph(pile.holding)  # a walk that withdraws, or another sweep, waits
        basis, mine = pile.day.isoformat(), {"person_id": pile.person, "way_id": pile.way}
        if Notice.objects.filter(kind=EVENING, basis=basis, **mine).exists():
            return 0
        news = _waiting().filter(weight=NoticeWeight.NEWS, created_at__lte=pile.until, **mine).order_by("pk")
        rows = list(news.select_for_update(no_key=True, of=("self",)))
        if not rows:
            return 0
        since = min(local_date(pile.zone, row.created_at) for row in rows)
        message = Notice.objects.create(
            holding_id=pile.holding,
            **mine,
            way_kind=rows[0].way_kind,
            kind=EVENING,
            basis=basis,
            weight=NoticeWeight.CALL,
            payload=together(pile.day, [_item(row) for row in rows], since),
            created_at=pile.at,
            due_at=pile.at,
        )
        ids = [row.pk for row in rows]
        Notice.objects.filter(pk__in=ids).update(state=NoticeState.FOLDED, folded_into=message)
    return 1


def _item(row: Notice) -> dict[str, Any]:
    """The piece of news that a notice carries; of one that carries none, its title and lines."""
    item = row.payload.get("item")
    if isinstance(item, dict):
        return item
    title, lines = row.payload.get("title"), row.payload.get("lines")
    return {
        "job": 0,
        "place": "",
        "way_in": "",
        "what": str(title or "Something is new"),
        "news": "",
        "lines": [str(line) for line in lines] if isinstance(lines, list) else [],
        "cautions": [],
        "rank": 0,
        "pile": "have news",
    }


def _clock(row: Mapping[str, Any], now: datetime) -> datetime:
    at: datetime = row["holding__clock_at"] or now
    return at


def _zone(row: Mapping[str, Any]) -> str:
    return str(row["person__zone"] or row["holding__zone"])
