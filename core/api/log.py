"""What happened: the log of changes and the reminders, to look at."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from core.api.facts import FactSerializer, NothingSerializer, ReadViewSet
from core.api.permissions import MANAGERS
from core.models import Event, Notice
from core.services.notices import send_again


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
            "weight",
            "payload",
            "created_at",
            "due_at",
            "state",
            "attempts",
            "last_error",
            "sent_at",
        ]
        read_only_fields = fields


class NoticeViewSet(ReadViewSet):
    """Reminders, the newest first; all but managers see their own."""

    queryset = Notice.objects.all()
    serializer_class = NoticeSerializer
    own_by = "person"
    order = ("-id",)
    http_method_names = ["get", "head", "post"]
    filterset_fields = {
        "person": ["exact"],
        "kind": ["exact"],
        "state": ["exact"],
        "job_id": ["exact"],
        "due_at": ["gte", "lt"],
    }

    @extend_schema(exclude=True)
    def create(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Nobody writes a reminder by hand."""
        return self.http_method_not_allowed(request)

    @extend_schema(request=None, responses={200: NoticeSerializer})
    @action(detail=True, methods=["post"], url_path="send-again")
    def send_again(self, request: Request, pk: int) -> Response:
        """Put a parked reminder back into the queue, once what parked it is put right; any other stays as it is."""
        row = self.get_object()
        NothingSerializer(data=request.data).is_valid(raise_exception=True)
        send_again(holding_id=row.holding_id, ids=[row.pk])
        return Response(self.shown(self.get_queryset().get(pk=row.pk)))
