"""The OpenAPI document: every operation names its problems, and the two ways to sign in."""

from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from rest_framework import serializers

from core.api.conditional import ASKED
from core.api.errors import MEDIA_TYPE
from core.api.permissions import Anybody

DESCRIPTIONS = {
    "400": "The request is wrong; `errors` says where.",
    "401": "No token or session, or one that is no longer good.",
    "403": "Your role or token does not reach this.",
    "404": "Not in this holding.",
    "406": "Only JSON is answered.",
    "409": "It clashes with what is stored.",
    "412": "It was changed after it was read; `facts` has its ETag now. Read it again, then change it.",
    "413": "The body is too large.",
    "415": "The body is of a kind that is not read here.",
    "422": "Understood, and refused by a rule; `facts` says which.",
    "428": "No If-Match says which state is changed.",
    "503": "The database is busy; try again.",
    "507": "The server's disk is full; nothing was stored.",
}


class ProblemErrorSerializer(serializers.Serializer[Any]):
    pointer = serializers.CharField(help_text="JSON pointer into the body, or the parameter's name after #/.")
    code = serializers.CharField()
    detail = serializers.CharField()


class ProblemSerializer(serializers.Serializer[Any]):
    """RFC 9457."""

    type = serializers.CharField()
    title = serializers.CharField()
    status = serializers.IntegerField()
    detail = serializers.CharField()
    instance = serializers.CharField()
    errors = ProblemErrorSerializer(many=True)  # type: ignore[assignment]
    facts = serializers.DictField(required=False)


MATCH = {
    "name": "If-Match",
    "in": "header",
    "required": True,
    "schema": {"type": "string"},
    "description": "The ETag of what you read; * means whatever it is now.",
}
NONE_MATCH = {
    "name": "If-None-Match",
    "in": "header",
    "schema": {"type": "string"},
    "description": "The ETag you have; if it still holds, the answer is 304 without a body.",
}
ETAG = {"ETag": {"description": "The state that is shown, for If-Match.", "schema": {"type": "string"}}}
NO_MATCH_ASKED = "No If-Match is asked: it says what happens, whatever the state is now."


class Schema(AutoSchema):
    def get_operation(self, *args: Any, **kwargs: Any) -> dict[str, Any] | None:
        operation = super().get_operation(*args, **kwargs)
        if operation is None:
            return None
        component = self.resolve_serializer(ProblemSerializer, "response")
        content = {MEDIA_TYPE: {"schema": component.ref}}
        for status in self.problems():
            operation["responses"].setdefault(status, {"description": DESCRIPTIONS[status], "content": content})
        self.tell_conditions(operation)
        return operation

    def conditional(self) -> bool:
        """Whether the operation is about one row that is shown with its tag."""
        one_row = getattr(self.view, "action", None) in ("retrieve", "update", "partial_update", "destroy")
        return one_row or getattr(self.view, "conditional", False)

    def tell_conditions(self, operation: dict[str, Any]) -> None:
        """Headers and answers of conditional requests; of actions, that they need none."""
        if getattr(self.view, "detail", False) and self.method == "POST":
            operation["description"] = "\n\n".join(filter(None, (operation.get("description"), NO_MATCH_ASKED)))
        if not self.conditional():
            return
        operation.setdefault("parameters", []).append(MATCH if self.method in ASKED else NONE_MATCH)
        if self.method == "GET":
            operation["responses"]["304"] = {"description": "You have it already.", "headers": ETAG}
        if "200" in operation["responses"]:
            operation["responses"]["200"]["headers"] = ETAG

    def problems(self) -> list[str]:
        """The statuses an operation may answer with beside its good one."""
        codes = {"400", "406", "503"}
        if Anybody not in self.view.permission_classes:
            codes |= {"401", "403", "404"}
        if self.method in {"POST", "PATCH", "PUT"}:
            codes |= {"409", "413", "415", "422", "507"}
        if self.method == "DELETE":
            codes |= {"409", "422", "507"}
        if getattr(self.view, "refuses", False):  # a rule may refuse to answer, not only to store
            codes |= {"422"}
        if self.method in ASKED and self.conditional():
            codes |= {"412", "428"}
        return sorted(codes)


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    target_class = "core.api.authentication.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: AutoSchema) -> dict[str, str]:
        return {"type": "http", "scheme": "bearer"}


class SessionScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    target_class = "core.api.authentication.SessionAuthentication"
    name = "session"

    def get_security_definition(self, auto_schema: AutoSchema) -> dict[str, str]:
        return {"type": "apiKey", "in": "cookie", "name": "sessionid"}
