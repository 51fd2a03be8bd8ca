"""Health for a watchdog: nothing in it is about anybody."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from core.api.permissions import Anybody
from core.selectors.health import health_at


class HealthSerializer(serializers.Serializer[Any]):
    status = serializers.ChoiceField(choices=["ok", "late"])
    last_sweep_s = serializers.IntegerField(allow_null=True, help_text="Seconds since a sweep last ended well.")
    oldest_due_s = serializers.IntegerField(
        allow_null=True, help_text="Seconds that the oldest unsent reminder is due."
    )
    last_walk_s = serializers.IntegerField(allow_null=True, help_text="Seconds since the last walk of any holding.")
    parked = serializers.IntegerField(help_text="Reminders that were given up until a manager looks at them.")


class HealthView(APIView):
    """Whether the database answers, the worker sweeps and reminders leave in time; 503 when they do not."""

    authentication_classes = ()
    permission_classes = (Anybody,)

    @extend_schema(responses={200: HealthSerializer, 503: HealthSerializer})
    def get(self, request: Request) -> Response:
        found = health_at(timezone.now())
        return Response(found, status=200 if found["status"] == "ok" else 503)
