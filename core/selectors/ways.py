"""Whose way an address is."""

from collections.abc import Sequence

from core.models import HoldingState, Way

MOST = 20
"""One address in more holdings than this is nobody's."""


def ways_at(address: str) -> Sequence[Way]:
    """Ways with this address, in any letters, of active people of holdings that are not closed; by id."""
    rows = Way.objects.filter(address__iexact=address, person__active=True).exclude(holding__state=HoldingState.CLOSED)
    found = list(rows.exclude(address="").select_related("person", "holding").order_by("id")[: MOST + 1])
    return found if len(found) <= MOST else []
