"""Change the holding itself."""

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from core.errors import Refused
from core.models import Holding, Person
from core.services.facts import ALL, touch
from core.services.rows import log, sentence_of


def change_holding(*, holding: Holding, by: Person | None, changes: Mapping[str, Any]) -> Holding:
    """Set name, zone or units; its whole graph is walked again, as every local day hangs on the zone.

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
