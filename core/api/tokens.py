"""Tokens of scripts: made, listed, revoked."""

from typing import Any

from django.conf import settings
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from core.api.facts import FactSerializer, FactViewSet, StrictSerializer
from core.api.fields import Line, OwnRow, Whole
from core.api.permissions import EVERYBODY
from core.models import Person, Token, TokenKind
from core.services.tokens import make_token, revoke_token


class TokenSerializer(FactSerializer[Token]):
    class Meta:
        model = Token
        fields = [
            "id",
            "person",
            "name",
            "kind",
            "prefix",
            "created_at",
            "expires_at",
            "revoked_at",
            "last_used_at",
        ]
        read_only_fields = fields


class NewTokenSerializer(StrictSerializer):
    person = OwnRow(required=False, queryset=Person.objects.all(), help_text="Without one: yourself.")
    name = Line(max_length=60, required=False, default="", allow_blank=True)
    kind = serializers.ChoiceField(choices=TokenKind.choices, default=TokenKind.FULL)
    days = Whole(min_value=1, max_value=settings.TOKEN_DAYS, default=min(90, settings.TOKEN_DAYS))


class IssuedTokenSerializer(TokenSerializer):
    secret = serializers.CharField(read_only=True, help_text="Shown this once and stored nowhere.")

    class Meta(TokenSerializer.Meta):
        fields = [*TokenSerializer.Meta.fields, "secret"]
        read_only_fields = fields


class TokenViewSet(FactViewSet):
    """Tokens of the holding; all but managers see, make and revoke their own. DELETE revokes, the row stays."""

    queryset = Token.objects.all()
    serializer_class = TokenSerializer
    writers = EVERYBODY
    own_by = "person"
    http_method_names = ["get", "head", "post", "delete"]
    filterset_fields = {"person": ["exact"], "kind": ["exact"]}

    @extend_schema(request=NewTokenSerializer, responses={201: IssuedTokenSerializer})
    def create(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """A token made by a token lives no longer than that one. The answer holds the secret; keep it."""
        serializer = NewTokenSerializer(data=request.data, context=self.get_serializer_context())
        serializer.is_valid(raise_exception=True)
        values = {"person": self.person, **serializer.validated_data}
        by_token = request.auth if isinstance(request.auth, Token) else None
        token, secret = make_token(
            **values, by=self.person, not_after=by_token.expires_at if by_token is not None else None
        )
        shown = {**TokenSerializer(token).data, "secret": secret}
        return Response(shown, status=201, headers={"Cache-Control": "no-store"})

    def remove(self, row: Any) -> None:
        revoke_token(token=row, by=self.person)
