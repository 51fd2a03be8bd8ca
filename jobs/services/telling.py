"""Store what is news as notices and take back what is not any more, inside the walk's transaction (D19)."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from core.evening_text import alone
from core.models import Holding, Notice, NoticeState
from core.sending_hours import next_allowed
from core.services.notices import queue
from jobs.minutes import floor_minute, local_day
from jobs.models import Job
from jobs.reminder_rules import CALL, OPENED, STOCK, Intent, news, next_instant, opened, stock
from jobs.selectors.facts import Loaded
from jobs.selectors.fitting import who_fits
from jobs.selectors.hearing import Hearing, Past, Reach, hear
from jobs.selectors.telling import items

FAR = 1 << 40
Rows = Mapping[int, Mapping[str, Any]]


@dataclass(frozen=True, slots=True)
class Told:
    """Notices written and taken back, and the minute at which more would be news although no fact changed."""

    written: int = 0
    withdrawn: int = 0
    wake_at: int = FAR


def tell(
    *,
    holding: Holding,
    loaded: Loaded,
    rows: Rows,
    before: Rows,
    changed: Collection[int],
    now: datetime,
    components: Collection[int] | None,
) -> Told:
    """Write the notices that are news and withdraw unsent ones that are wanted no more, about the jobs of `rows`.

    `rows` are the reckonings just stored, `before` those they replaced, `changed` the jobs whose rows differ. The same
    state twice writes nothing. Call it under the graph lock, after the reckonings are stored."""
    gone = _withdraw_orphans(holding.pk)
    hearing = hear(holding, loaded, rows, now, components)
    if not hearing.ways:
        return Told(0, gone)
    minute = floor_minute(now)
    wanted = _wanted(hearing, minute, local_day(holding.zone, minute))
    wanted |= {intent.key: intent for intent in _still_open(hearing)}
    wanted |= {intent.key: intent for intent in _opened(holding, rows, before, changed, hearing, now)}
    withdrawn = [one.id for one in hearing.past if _is_unwanted(one, wanted, hearing, components)]
    Notice.objects.filter(pk__in=withdrawn, state=NoticeState.QUEUED).update(state=NoticeState.WITHDRAWN)
    written = _write(holding, wanted, hearing, set(changed), now)
    wake = min((next_instant(work, minute) for work in hearing.works.values()), default=FAR)
    return Told(written, gone + len(withdrawn), wake)


def _withdraw_orphans(holding_id: int) -> int:
    """Take back what waits about jobs that are there no more."""
    waiting = Notice.objects.filter(state__in=[NoticeState.QUEUED, NoticeState.CLAIMED]).filter(
        state=NoticeState.QUEUED, holding_id=holding_id, job_id__gt=0
    )
    there = Job.objects.filter(holding_id=holding_id).values("id")
    return waiting.exclude(job_id__in=there).update(state=NoticeState.WITHDRAWN)


def _wanted(hearing: Hearing, minute: int, today: date) -> dict[tuple[int, str, int, str], Intent]:
    found = [
        intent for work in hearing.works.values() for intent in news(work, minute, hearing.known, hearing.managers)
    ]
    for material, (counted, uses) in hearing.stock.items():
        found += stock(material, counted, uses, today, hearing.known, hearing.managers)
    return {intent.key: intent for intent in found if intent.person in hearing.ways}


def _opened(
    holding: Holding, rows: Rows, before: Rows, changed: Iterable[int], hearing: Hearing, now: datetime
) -> list[Intent]:
    """A job that opens is news once, at that moment."""
    after = {job: str(rows[job]["state"]) for job in changed}
    earlier = {job: str(before[job]["state"]) for job in after if job in before}
    fresh = [job for job, state in after.items() if state == "open" and earlier.get(job) != "open"]
    if not fresh:
        return []
    day = local_day(holding.zone, floor_minute(now)).isoformat()
    found = opened(earlier, after, who_fits(holding, fresh, hearing.works, now), day, hearing.managers)
    return [intent for intent in found if intent.person in hearing.ways]


def _still_open(hearing: Hearing) -> list[Intent]:
    """What waits about jobs that are open still, for those who still work on them."""
    found = []
    for one in hearing.past:
        person, kind, job, basis = one.key
        work = hearing.works.get(job)
        if kind != OPENED or one.state != NoticeState.QUEUED or work is None or work.state != "open":
            continue
        if person in work.workers or person in hearing.managers:
            found.append(Intent(person, OPENED, job, basis, about=0 if person in work.workers else 1))
    return [intent for intent in found if intent.person in hearing.ways]


def _is_unwanted(
    one: Past,
    wanted: Mapping[tuple[int, str, int, str], Intent],
    hearing: Hearing,
    components: Collection[int] | None,
) -> bool:
    """It still waits, and this walk, which looked at what it is about, does not say it any more."""
    if one.state != NoticeState.QUEUED or one.key in wanted:
        return False
    if one.key[1] == STOCK:
        return components is None or int(one.key[3].split()[1]) in hearing.stock
    return True


def _write(
    holding: Holding,
    wanted: Mapping[tuple[int, str, int, str], Intent],
    hearing: Hearing,
    changed: Collection[int],
    now: datetime,
) -> int:
    """Queue what no way carries yet, and say anew what waits about a job whose reckoning changed."""
    known = {(*one.key, one.way): one for one in hearing.past}
    fresh, stale = [], []
    for intent in wanted.values():
        for reach in hearing.ways[intent.person]:
            past = known.get((*intent.key, reach.id))
            if past is None or past.state == NoticeState.WITHDRAWN:
                fresh.append((intent, reach))
            elif past.state == NoticeState.QUEUED and (intent.job in changed or intent.kind == STOCK):
                stale.append((intent, past))
    if not fresh and not stale:
        return 0
    said = items(holding, list(dict.fromkeys(intent for intent, _ in [*fresh, *stale])), hearing, now)
    payloads = {intent: {**alone(item), "item": item} for intent, item in said.items()}
    _say_anew([(past.id, payloads[intent]) for intent, past in stale if intent in payloads])
    notices = [_notice(holding, intent, reach, payloads[intent], now) for intent, reach in fresh if intent in payloads]
    return queue(holding_id=holding.pk, notices=notices)


def _say_anew(said: Iterable[tuple[int, dict[str, Any]]]) -> None:
    payloads = dict(said)
    rows = Notice.objects.filter(pk__in=list(payloads), state=NoticeState.QUEUED).only("payload")
    differing = [row for row in rows.order_by("pk") if row.payload != payloads[row.pk]]
    for row in differing:
        row.payload = payloads[row.pk]
    Notice.objects.bulk_update(differing, ["payload"], batch_size=500)


def _notice(holding: Holding, intent: Intent, reach: Reach, payload: dict[str, Any], now: datetime) -> Notice:
    due = now
    if intent.weight == CALL:
        due = next_allowed(now, reach.zone, reach.quiet_from, reach.quiet_to)
    return Notice(
        holding=holding,
        person_id=intent.person,
        way_id=reach.id,
        way_kind=reach.kind,
        kind=intent.kind,
        job_id=intent.job,
        basis=intent.basis,
        weight=intent.weight,
        payload=payload,
        created_at=now,
        due_at=due,
    )
