"""Instants and stretches of time as services write them (RFC 3339, ISO 8601), in whole minutes since 1970-01-01 UTC."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Any

from plots.forecasts.values import Unusable

_DURATION = re.compile(r"P(?:(\d{1,4})D)?(?:T(?:(\d{1,4})H)?(?:(\d{1,5})M)?)?")


def minute_of(text: Any) -> int:
    """An instant with its offset.

    Raises:
        Unusable: it is none, or says no offset.
    """
    try:
        instant = datetime.fromisoformat(text)
        if instant.tzinfo is None:
            raise ValueError
        return int(instant.timestamp() // 60)
    except (TypeError, ValueError, OverflowError) as error:
        raise Unusable("A time in the reply cannot be read.") from error


def stretch_of(text: Any) -> tuple[int, int]:
    """(start, end) of "start/duration", end exclusive.

    Raises:
        Unusable: it is no such stretch, or it is empty.
    """
    start, _, duration = text.partition("/") if isinstance(text, str) else ("", "", "")
    found = _DURATION.fullmatch(duration)
    days, hours, minutes = (int(part or 0) for part in found.groups()) if found else (0, 0, 0)
    length = days * 1440 + hours * 60 + minutes
    if length == 0:
        raise Unusable("A stretch of time in the reply cannot be read.")
    begins = minute_of(start)
    return begins, begins + length
