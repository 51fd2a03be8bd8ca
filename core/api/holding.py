"""The holding of the asker, and who the asker is in it."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from core.api.authentication import person_behind
from core.api.conditional import answered, check_match, in_turn, tag_of
from core.api.facts import FactSerializer
from core.api.fields import Zone
from core.clock import now_at
from core.models import Holding, Role, Token
from core.services.holding import change_holding


class HoldingSerializer(FactSerializer[Holding]):
    zone = Zone(required=False)

    class Meta:
        model = Holding
        fields = ["id", "name", "zone", "units", "clock_at", "state", "check_in_minutes", "check_in_contact"]
        read_only_fields = ["clock_at", "state"]


class HoldingView(APIView):
    """All land under one management: the asker's own holding, the only one there is for them."""

    conditional = True

    @extend_schema(responses=HoldingSerializer)
    def get(self, request: Request) -> Response:
        return answered(request, HoldingSerializer(person_behind(request).holding).data)

    @extend_schema(request=HoldingSerializer, responses=HoldingSerializer)
    @in_turn
    def patch(self, request: Request) -> Response:
        person = person_behind(request)
        stored = Holding.objects.get(pk=person.holding_id)
        check_match(request, tag_of(HoldingSerializer(stored).data))
        serializer = HoldingSerializer(stored, data=request.data, partial=True)
        serializer.is_valid(raise_exception=True)
        change_holding(holding=stored, by=person, changes=serializer.validated_data)
        return answered(request, HoldingSerializer(stored).data)


class MeSerializer(serializers.Serializer[Any]):
    person = serializers.IntegerField()
    name = serializers.CharField()
    role = serializers.ChoiceField(choices=Role.choices)
    zone = serializers.CharField(help_text="The person's zone, or else the holding's.")
    holding = HoldingSerializer()
    now = serializers.DateTimeField(help_text="The holding's instant.")
    clock_stands = serializers.BooleanField(help_text="True where the clock was set to stand, as in the demo.")
    token_kind = serializers.CharField(allow_null=True)


class MeView(APIView):
    """Who asks, as what, in which holding, and what its clock says."""

    @extend_schema(responses=MeSerializer)
    def get(self, request: Request) -> Response:
        person = person_behind(request)
        holding = person.holding
        return Response(
            {
                "person": person.pk,
                "name": person.name,
                "role": person.role,
                "zone": person.zone or holding.zone,
                "holding": HoldingSerializer(holding).data,
                "now": now_at(holding),
                "clock_stands": holding.clock_at is not None,
                "token_kind": request.auth.kind if isinstance(request.auth, Token) else None,
            }
        )
