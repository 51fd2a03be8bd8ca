"""The one place that reads a holding's clock."""

from datetime import datetime

from django.utils import timezone

from core.models import Holding


def now_at(holding: Holding) -> datetime:
    """The holding's instant, aware UTC: where its clock was set to stand, else the real one.

    Leases, tokens and sign-in use the real clock and not this."""
    return holding.clock_at or timezone.now()
