"""The one place that reads a holding's clock."""

from datetime import datetime
from zoneinfo import ZoneInfo

from django.utils import timezone

from core.models import Holding


def now_at(holding: Holding) -> datetime:
    """The holding's instant, aware UTC: where its clock was set to stand, else the real one.

    Leases, tokens and sign-in use the real clock and not this."""
    return holding.clock_at or timezone.now()


def standing(holding: Holding) -> str:
    """The sentence of every screen while the holding's clock stands, in the holding's zone; empty if it runs."""
    if holding.clock_at is None:
        return ""
    at = holding.clock_at.astimezone(ZoneInfo(holding.zone))
    return f"The clock of this holding stands at {at:%a} {at.day} {at:%b %Y, %H:%M}."
