"""Signatures between the house and a gateway, and of the address that stops a way. No secret of it is stored.

A gateway's key is made from the program's secret and the way's id and address, so another address has another key. What
is signed is the second (Unix time, in decimal digits), a line feed and the body, by HMAC-SHA256 (RFC 2104).
"""

import hmac
from hashlib import sha256

from django.conf import settings
from django.core import signing
from django.utils.crypto import salted_hmac

SECOND_HEADER = "X-Readyground-Second"
SIGNATURE_HEADER = "X-Readyground-Signature"
WITHIN_S = 300
"""How far the second of a message that comes in may be from ours."""

_STOP = signing.Signer(salt="readyground.stop")


def key_of(way_id: int, address: str) -> str:
    """The key of a way, 64 hexadecimal digits; the gateway uses them as they stand, as ASCII."""
    return salted_hmac("readyground.gateway", f"{way_id}:{address}", algorithm="sha256").hexdigest()


def signature(key: str, second: int, body: bytes) -> str:
    """64 hexadecimal digits."""
    return hmac.new(key.encode(), f"{second}\n".encode() + body, sha256).hexdigest()


def is_signed(key: str, *, second: str, given: str, body: bytes, now_s: float) -> bool:
    """Whether `given` is the signature of this body at this second, and the second is within five minutes of ours."""
    if not (second.isascii() and second.isdigit() and len(second) <= 12 and given.isascii()):
        return False
    right = hmac.compare_digest(signature(key, int(second), body), given.lower())
    return right and abs(now_s - int(second)) <= WITHIN_S


def stop_address(way_id: int, address: str) -> str:
    """The address that stops a way, without sign-in and for ever, as an old message must be stoppable too."""
    return f"{settings.BASE_URL.rstrip('/')}/stop/{_STOP.sign(f'{way_id}-{_mark(address)}')}/"


def stopped_by(signed: str) -> tuple[int, str] | None:
    """(way id, mark of the address) behind a signed stop; None if nobody here signed it."""
    try:
        way, _, mark = _STOP.unsign(signed).partition("-")
    except signing.BadSignature:
        return None
    return int(way), mark  # as we wrote it


def is_marked(address: str, mark: str) -> bool:
    """Whether the way still has the address it had when the message went: a stop is for that one alone."""
    return hmac.compare_digest(_mark(address), mark)


def _mark(address: str) -> str:
    return salted_hmac("readyground.stop", address, algorithm="sha256").hexdigest()[:16]
