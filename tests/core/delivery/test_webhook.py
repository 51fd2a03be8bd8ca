"""The gateway way: what it is given, what its answers mean, how long it may take."""

import hmac
import json
import time
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from typing import Any

import pytest

from core.delivery import Permanent, Temporary
from core.delivery.signing import is_signed, key_of
from core.delivery.webhook import WebhookSender, pause_of
from tests.core.delivery.gateway_sink import GatewaySink
from tests.core.delivery.messages import EVENT, message

NOW = datetime(2026, 4, 24, 12, 0, tzinfo=UTC)


def head(status: str, *fields: str) -> bytes:
    return "\r\n".join([f"HTTP/1.1 {status}", *fields, "", ""]).encode()


def send(settings: Any, sink: GatewaySink, **changes: Any) -> str:
    """Send to the sink, which stands in the allow-list; returns the address."""
    settings.WEBHOOK_ALLOW = [sink.host]
    settings.BASE_URL = "https://farm.example.org"
    address = f"http://{sink.host}/texts?to=ada"
    WebhookSender(clock=NOW.timestamp).send(message(address=address, **changes))
    return address


def test_a_gateway_gets_text_numbers_and_days_with_the_same_body_on_every_try(settings: Any) -> None:
    with GatewaySink(head("204 No Content")) as sink:
        send(settings, sink, events=[EVENT])
        send(settings, sink, events=[EVENT])
    (path, headers, body), second = sink.requests
    assert path == "/texts?to=ada"
    assert headers["Host"] == sink.host
    assert headers["Content-Type"] == "application/json"
    assert headers["X-Reminder-Id"] == "11111111-2222-4333-8444-555555555555"
    said = json.loads(body)
    stop = said.pop("stop")
    assert said == {
        "id": "11111111-2222-4333-8444-555555555555",
        "title": "Mow the clover, North field",
        "text": "Saturday 6:40 to 10:15.\nStart by Tue 28 Apr.\n",
        "jobs": [4, 9],
        "events": [EVENT],
        "answers": "https://farm.example.org/api/inbound/",
    }
    assert stop.startswith("https://farm.example.org/stop/")
    assert second[2] == body


def test_a_gateway_can_check_who_sent_it(settings: Any) -> None:
    with GatewaySink(head("200 OK")) as sink:
        address = send(settings, sink)
    ((_, headers, body),) = sink.requests
    second = headers["X-Readyground-Second"]
    assert second == str(int(NOW.timestamp()))
    by_hand = hmac.new(key_of(17, address).encode(), second.encode() + b"\n" + body, sha256).hexdigest()
    assert headers["X-Readyground-Signature"] == by_hand


def test_a_key_belongs_to_one_way_and_one_address() -> None:
    keys = {key_of(way, address) for way in (1, 2, 12) for address in ("https://a.example.org/", "2:https://x/")}
    assert len(keys) == 6
    assert all(len(key) == 64 for key in keys)


def test_a_signature_holds_for_its_body_and_second_and_for_five_minutes() -> None:
    def good(**changes: Any) -> bool:
        by_hand = hmac.new(b"k", b"1000\nbody", sha256).hexdigest()
        standard = {"key": "k", "second": "1000", "given": by_hand, "body": b"body", "now_s": 1000.0}
        return is_signed(**{**standard, **changes})

    assert good()
    assert good(now_s=1300.0)
    assert good(now_s=700.0)
    assert not good(now_s=1301.0)
    assert not good(now_s=699.0)
    assert not good(key="j")
    assert not good(body=b"body ")
    assert not good(second="1001")
    assert not good(given="")
    assert not good(given="é")
    for second in ("", "-1", "1e3", "١٠٠٠", "9" * 13, " 1000"):
        assert not good(second=second)


@pytest.mark.parametrize("status", ["408 x", "425 x", "429 x", "500 x", "502 x", "503 x", "599 x"])
def test_these_answers_mean_later(settings: Any, status: str) -> None:
    with GatewaySink(head(status)) as sink, pytest.raises(Temporary, match=status[:3]):
        send(settings, sink)


@pytest.mark.parametrize("status", ["301 x", "302 x", "307 x", "400 x", "401 x", "403 x", "404 x", "410 x", "422 x"])
def test_these_answers_mean_never(settings: Any, status: str) -> None:
    answer = head(status, "Location: http://127.0.0.1/", "", "ada@example.org is a secret")
    with GatewaySink(answer) as sink, pytest.raises(Permanent, match=status[:3]) as caught:
        send(settings, sink)
    assert "secret" not in str(caught.value)
    assert len(sink.requests) == 1


def test_an_announcement_is_no_answer(settings: Any) -> None:
    with GatewaySink(head("103 Early Hints") + head("500 x")) as sink, pytest.raises(Temporary, match="500"):
        send(settings, sink)


def test_how_long_to_wait_is_heeded_within_bounds(settings: Any) -> None:
    with GatewaySink(head("429 x", "Retry-After: 900")) as sink, pytest.raises(Temporary) as caught:
        send(settings, sink)
    assert caught.value.after == timedelta(minutes=15)
    assert pause_of("0", NOW) == pause_of("Fri, 24 Apr 2026 11:00:00 GMT", NOW) == timedelta(seconds=1)
    assert pause_of("Fri, 24 Apr 2026 12:10:00 GMT", NOW) == timedelta(minutes=10)
    assert pause_of("9" * 400, NOW) == pause_of("Fri, 24 Apr 2099 12:10:00 GMT", NOW) == timedelta(hours=6)
    assert pause_of("", NOW) is pause_of("soon", NOW) is pause_of("-5", NOW) is None


@pytest.mark.parametrize("answer", [b"", b"SSH-2.0\r\n\r\n", b"HTTP/1.1 20\r\n\r\n", b"HTTP/2 200\r\n\r\n"])
def test_what_is_no_answer_means_later(settings: Any, answer: bytes) -> None:
    with GatewaySink(answer) as sink, pytest.raises(Temporary):
        send(settings, sink)


def test_an_endless_head_is_not_read_to_its_end(settings: Any) -> None:
    with GatewaySink(b"HTTP/1.1 200 OK\r\nX: " + b"x" * 200_000) as sink, pytest.raises(Temporary, match="too large"):
        send(settings, sink)


def test_one_who_answers_a_byte_at_a_time_is_left_after_five_seconds(settings: Any) -> None:
    begun = time.monotonic()
    with GatewaySink(b"HTTP/1.1 200 OK\r\nX: ", drips=100) as sink, pytest.raises(Temporary):
        send(settings, sink)
    assert 4 < time.monotonic() - begun < 7


def test_a_way_without_an_address_never_goes() -> None:
    with pytest.raises(Permanent, match="no address"):
        WebhookSender().send(message(address=""))
    with pytest.raises(Permanent, match="no address"):
        WebhookSender().send(message(way=None))
