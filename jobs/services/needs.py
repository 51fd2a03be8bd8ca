"""Store what a job takes along, with what follows from it: later seasons wait for a material that is sprayed."""

from __future__ import annotations

from collections.abc import Collection

from django.db import transaction

from core.models import Person
from core.services.rows import save_row
from jobs.models import Need
from jobs.services.across import links_after
from jobs.services.links import add_links


def save_need(*, need: Need, by: Person | None, fields: Collection[str]) -> Need:
    """Store a need, and tie its job to jobs of other seasons that wait for what it now sprays.

    A tie that another material made stays until somebody removes it: to drop a wait is a manager's word.

    Raises:
        NotFound: the need is gone, or names something of another holding.
        Refused: a rule of the table, or a tie would close a circle or contradict others; nothing is stored then.
    """
    with transaction.atomic():
        save_row(row=need, by=by, fields=fields)
        links = links_after(need.job) if need.material_id is not None else []
        if links:
            add_links(holding_id=need.holding_id, links=links, by=by)
    return need
