"""Where a gateway brings the answers of people."""

import time
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import AuthenticationFailed, Throttled
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from core.api.errors import MEDIA_TYPE
from core.api.facts import StrictSerializer
from core.api.fields import Line, Text
from core.api.permissions import Anybody
from core.api.schema import ProblemSerializer
from core.delivery.signing import SECOND_HEADER, SIGNATURE_HEADER, is_signed, key_of
from core.models import Way
from core.selectors.ways import ways_at
from jobs.services.inbound import TooMany, take_answer

NOT_SIGNED = (
    "The message is not signed with the key of a way to this address, or its second is not within five minutes."
)


class MessageSerializer(StrictSerializer):
    id = Line(max_length=200, help_text="The gateway's own, the same whenever it brings this message again.")
    address = Line(max_length=254, help_text="Of the way, as the holding lists it: whom the answer comes from.")
    text = Text(max_length=2000, allow_blank=True, trim_whitespace=False)


class AnsweredSerializer(serializers.Serializer[Any]):
    reply = serializers.CharField(help_text="To be sent back to the person.")
    changed = serializers.BooleanField(help_text="Whether anything was stored.")


class InboundView(APIView):
    """Take an answer to a reminder: START, DONE 4 AC, NO and the reason, SKIP, STOP, HELP, a job's number first.

    Signed like what goes out: X-Readyground-Second is the Unix time, X-Readyground-Signature the HMAC-SHA256, in
    hexadecimal digits, of that second, a line feed and the body, under the way's key. The same message again gets the
    same answer and changes nothing. A text that is not plain changes nothing and is answered by a sentence."""

    authentication_classes = ()
    permission_classes = (Anybody,)

    def get_authenticate_header(self, request: Request) -> str:
        return 'HMAC-SHA256 realm="inbound"'

    @extend_schema(
        request=MessageSerializer,
        responses={
            200: AnsweredSerializer,
            (401, MEDIA_TYPE): ProblemSerializer,
            (429, MEDIA_TYPE): ProblemSerializer,
        },
    )
    def post(self, request: Request) -> Response:
        raw = request._request.body
        given = MessageSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        said = given.validated_data
        way = _signed_by(request, raw, said["address"])
        try:
            done = take_answer(way=way, message=said["id"], text=said["text"])
        except TooMany as error:
            raise Throttled(wait=3600) from error
        return Response({"reply": done.reply, "changed": done.changed})


def _signed_by(request: Request, raw: bytes, address: str) -> Way:
    """The way to this address whose key signed the body.

    Raises:
        AuthenticationFailed: there is none, which is all that is said, also of an address that nobody has.
    """
    second, given = request.headers.get(SECOND_HEADER, ""), request.headers.get(SIGNATURE_HEADER, "")
    for way in ways_at(address) or [Way(pk=0, address=address)]:
        key = key_of(way.pk, way.address)
        if is_signed(key, second=second, given=given, body=raw, now_s=time.time()) and way.pk:
            return way
    raise AuthenticationFailed(NOT_SIGNED)
