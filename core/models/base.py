"""What every table of a holding shares, and constraint words with a sentence for people."""

from typing import Any

from django.db import models
from django.db.models import F, Q


class HoldingRow(models.Model):
    """A row that belongs to one holding; nothing crosses a holding's border."""

    holding = models.ForeignKey("core.Holding", on_delete=models.CASCADE, related_name="+")

    class Meta:
        abstract = True

    def fact_keys(self) -> set[str]:
        """Keys of the facts that this row is one of; holds read facts by these keys. Empty: no hold reads it."""
        return set()


def one_of(field: str, choices: type[models.TextChoices], name: str) -> models.CheckConstraint:
    """The database accepts the named choices only."""
    known = ", ".join(choices.values)
    return models.CheckConstraint(
        condition=Q(**{f"{field}__in": choices.values}),
        name=name,
        violation_error_message=f"{field.replace('_', ' ').capitalize()} is not known. Give one of: {known}.",
    )


def before(first: str, second: str, name: str, sentence: str, **allow: Any) -> models.CheckConstraint:
    """`first` lies before `second`; `or_equal=True` lets them be equal, `or_null=True` lets either be missing."""
    lookup = "lte" if allow.get("or_equal") else "lt"
    condition = Q(**{f"{first}__{lookup}": F(second)})
    if allow.get("or_null"):
        condition |= Q(**{f"{first}__isnull": True}) | Q(**{f"{second}__isnull": True})
    return models.CheckConstraint(condition=condition, name=name, violation_error_message=sentence)
