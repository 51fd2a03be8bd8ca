"""Make a holding, and change it."""

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from core.errors import Refused
from core.models import Graph, Holding, Person
from core.services.facts import ALL, touch
from core.services.rows import log, sentence_of


def make_holding(*, holding: Holding) -> Holding:
    """Store a new holding with the graph row that every walk and edge write locks.

    Raises:
        Refused: a rule of the table.
    """
    try:
        holding.full_clean()
    except ValidationError as error:
        field, sentence = sentence_of(error)
        raise Refused(sentence, code="invalid", field=field) from error
    with transaction.atomic():
        holding.save()
        Graph.objects.create(holding=holding)
        log(holding_id=holding.pk, by=None, verb="added", row=holding, change={})
    return holding


def change_holding(*, holding: Holding, by: Person | None, changes: Mapping[str, Any]) -> Holding:
    """Set what a holding says of itself; its whole graph is walked again, as every local day hangs on the zone.

    Raises:
        Refused: a rule of the table.
    """
    for name, value in changes.items():
        setattr(holding, name, value)
    with transaction.atomic():
        try:
            holding.full_clean()
        except ValidationError as error:
            field, sentence = sentence_of(error)
            raise Refused(sentence, code="invalid", field=field) from error
        holding.save(update_fields=sorted(changes))
        log(holding_id=holding.pk, by=by, verb="changed", row=holding, change=dict(changes))
        touch(holding.pk, [ALL])
    return holding
