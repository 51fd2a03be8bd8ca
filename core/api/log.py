"""What happened: the log of changes and the reminders, to look at."""

from core.api.facts import FactSerializer, ReadViewSet
from core.api.permissions import MANAGERS
from core.models import Event, Notice


class EventSerializer(FactSerializer[Event]):
    class Meta:
        model = Event
        fields = ["id", "at", "person", "verb", "object", "object_id", "change"]
        read_only_fields = fields


class EventViewSet(ReadViewSet):
    """Who changed what, the newest first; managers alone."""

    queryset = Event.objects.all()
    serializer_class = EventSerializer
    readers = MANAGERS
    order = ("-id",)
    filterset_fields = {
        "person": ["exact"],
        "verb": ["exact"],
        "object": ["exact"],
        "object_id": ["exact"],
        "at": ["gte", "lt"],
    }


class NoticeSerializer(FactSerializer[Notice]):
    class Meta:
        model = Notice
        fields = [
            "id",
            "person",
            "way_kind",
            "kind",
            "job_id",
            "payload",
            "created_at",
            "due_at",
            "state",
            "attempts",
            "sent_at",
        ]
        read_only_fields = fields


class NoticeViewSet(ReadViewSet):
    """Reminders, the newest first; all but managers see their own."""

    queryset = Notice.objects.all()
    serializer_class = NoticeSerializer
    own_by = "person"
    order = ("-id",)
    filterset_fields = {
        "person": ["exact"],
        "kind": ["exact"],
        "state": ["exact"],
        "job_id": ["exact"],
        "due_at": ["gte", "lt"],
    }
