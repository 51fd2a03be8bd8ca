"""Who changed what."""

from django.db import models

from core.models.base import HoldingRow
from core.models.people import Person


class Event(HoldingRow):
    """One line of the log of changes; the database refuses to change or delete it."""

    at = models.DateTimeField(auto_now_add=True)
    person = models.ForeignKey(Person, on_delete=models.DO_NOTHING, null=True, related_name="+", db_constraint=False)
    verb = models.CharField(max_length=24)
    object = models.CharField(max_length=40)
    object_id = models.BigIntegerField(null=True)
    change = models.JSONField(default=dict)

    class Meta:
        indexes = [models.Index(fields=["holding", "at"], name="event_time")]

    def __str__(self) -> str:
        return f"{self.verb} {self.object} {self.object_id or ''}".strip()
