"""The hours of one job, and when a burn can be lit at the latest."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers


class LimitSerializer(serializers.Serializer[Any]):
    """A limit of the hours with its distance in this hour."""

    key = serializers.CharField()
    what = serializers.CharField()
    unit = serializers.CharField()
    distance = serializers.FloatField(allow_null=True, help_text="0 or more holds; null: not known, and so holds not.")
    sentence = serializers.CharField()
    verdict = serializers.CharField(help_text="stop, written reason or advice.")
    rank = serializers.CharField(help_text="Who set it: default, label, plot ...")
    may_be_set_aside = serializers.BooleanField()
    source = serializers.CharField(allow_blank=True)  # type: ignore[assignment]
    source_title = serializers.CharField(allow_blank=True)
    worth = serializers.CharField(allow_blank=True)


class NamedLimitSerializer(serializers.Serializer[Any]):
    key = serializers.CharField()
    what = serializers.CharField()


class JobWindowSerializer(serializers.Serializer[Any]):
    """One run of time in which all limits hold."""

    to = serializers.DateTimeField()
    now = serializers.BooleanField()
    opens = serializers.CharField(help_text="What held it before, or what begins.")
    ends = serializers.CharField(help_text="What ends it.")
    closest = serializers.CharField(allow_blank=True)
    tightest = serializers.CharField(allow_blank=True, help_text="Key of the limit that comes closest.")
    distance = serializers.FloatField(allow_null=True, help_text="Its least distance inside, in its unit.")
    unit = serializers.CharField(allow_blank=True)

    def get_fields(self) -> dict[str, Any]:
        return {**super().get_fields(), "from": serializers.DateTimeField()}


class JobWindowsSerializer(serializers.Serializer[Any]):
    """In which hours the weather lets a job go, as far as the forecast reaches. Nothing here is permission."""

    job = serializers.IntegerField()
    title = serializers.CharField()
    zone = serializers.CharField()
    state = serializers.CharField()
    known = serializers.BooleanField(help_text="False: nothing is known of the hours, so none is offered.")
    issued = serializers.DateTimeField(allow_null=True, help_text="When the newest forecast was made.")
    sentence = serializers.CharField()
    minutes = serializers.IntegerField(allow_null=True, help_text="So long a window has to be.")
    windows = JobWindowSerializer(many=True)
    limits = LimitSerializer(many=True)
    left_out = NamedLimitSerializer(many=True, help_text="Nothing is known of these here: look for yourself.")
    set_aside = NamedLimitSerializer(many=True)
    advice = LimitSerializer(many=True, help_text="Told, and closes no hour.")
