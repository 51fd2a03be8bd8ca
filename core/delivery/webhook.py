"""A gateway, one that sends texts say: JSON by a signed request."""

import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime

import orjson
from django.conf import settings

from core.delivery.egress import Resolve, post, resolved, target_of
from core.delivery.errors import Permanent, Temporary
from core.delivery.message import Message
from core.delivery.signing import SECOND_HEADER, SIGNATURE_HEADER, key_of, signature, stop_address

LATER = frozenset({408, 425, 429})
"""RFC 9110, 15.5.9; RFC 8470, 5.2; RFC 6585, 4. Every other 4xx means that this request will never be taken."""
LONGEST_PAUSE = timedelta(hours=6)


class WebhookSender:
    """POST each message to the way's address, signed with the way's key. What the gateway says is neither kept nor
    shown, but for its status and how long to wait."""

    def __init__(self, resolve: Resolve = resolved, clock: Callable[[], float] = time.time) -> None:
        self._resolve = resolve
        self._clock = clock

    def send(self, message: Message) -> None:
        if not message.address or message.way is None:
            raise Permanent("The way has no address.")
        target = target_of(message.address, frozenset(settings.WEBHOOK_ALLOW))
        body, second = written(message), int(self._clock())
        headers = {
            "Content-Type": "application/json",
            "User-Agent": "Readyground",
            "X-Reminder-Id": str(message.id),
            SECOND_HEADER: str(second),
            SIGNATURE_HEADER: signature(key_of(message.way, message.address), second, body),
        }
        answer = post(target, headers, body, resolve=self._resolve)
        if 200 <= answer.status < 300:
            return
        if answer.status in LATER or answer.status >= 500:
            pause = pause_of(answer.retry_after, datetime.fromtimestamp(self._clock(), UTC))
            raise Temporary(f"The gateway asks to try later ({answer.status}).", after=pause)
        raise Permanent(f"The gateway refused the message ({answer.status}).")

    def close(self) -> None:
        return


def written(message: Message) -> bytes:
    """The body, equal on every try."""
    return orjson.dumps(
        {
            "id": str(message.id),
            "title": message.title,
            "text": message.body,
            "jobs": list(message.jobs),
            "events": [dict(event) for event in message.events],
            "answers": f"{settings.BASE_URL.rstrip('/')}/api/inbound/",
            "stop": stop_address(message.way or 0, message.address),
        }
    )


def pause_of(retry_after: str, now: datetime) -> timedelta | None:
    """Retry-After (RFC 9110, 10.2.3: seconds or a date) as a pause from 1 s to six hours; None if it says nothing."""
    said = retry_after.strip()
    if said.isascii() and said.isdigit():
        pause = timedelta(seconds=int(said[:9]))
    else:
        try:
            at = parsedate_to_datetime(said)
        except (ValueError, TypeError, OverflowError):
            return None
        pause = at.replace(tzinfo=at.tzinfo or UTC) - now
    return min(max(pause, timedelta(seconds=1)), LONGEST_PAUSE)
