"""The form of answers: what a job is, what holds it, what to heed, and the reasons behind its dates."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers


class AreaSerializer(serializers.Serializer[Any]):
    value = serializers.FloatField()
    unit = serializers.ChoiceField(choices=["ac", "ha"])


class NamedSerializer(serializers.Serializer[Any]):
    id = serializers.IntegerField()
    name = serializers.CharField()


class PlaceSerializer(NamedSerializer):
    latitude = serializers.FloatField()
    longitude = serializers.FloatField()
    access = serializers.CharField(allow_blank=True)


class SeasonNameSerializer(serializers.Serializer[Any]):
    id = serializers.IntegerField(allow_null=True)
    label = serializers.CharField(allow_null=True, allow_blank=True)  # type: ignore[assignment]
    sequence = serializers.CharField(allow_null=True)


class HoldSerializer(serializers.Serializer[Any]):
    """One reason why the job cannot go now."""

    kind = serializers.CharField()
    sentence = serializers.CharField()
    clears = serializers.CharField(help_text="When or how it clears, in words.")
    clears_at = serializers.CharField(allow_null=True)
    rule = serializers.CharField(help_text="The fact behind it, such as prerequisite:12.")
    source = serializers.CharField(allow_blank=True)  # type: ignore[assignment]
    source_title = serializers.CharField(allow_blank=True)
    worth = serializers.CharField(allow_blank=True)


class CautionSerializer(serializers.Serializer[Any]):
    """Usual cautions of work that can hurt, and who decides. Nothing here is permission."""

    hazard = serializers.CharField()
    lines = serializers.ListField(child=serializers.CharField())
    decides = serializers.CharField()


class TakenMaterialSerializer(serializers.Serializer[Any]):
    name = serializers.CharField()
    amount = serializers.FloatField(allow_null=True)
    unit = serializers.CharField(allow_blank=True)


class BringSerializer(serializers.Serializer[Any]):
    machines = serializers.ListField(child=serializers.CharField())
    materials = TakenMaterialSerializer(many=True)
    skills = serializers.ListField(child=serializers.CharField())


class GivenSerializer(serializers.Serializer[Any]):
    id = serializers.IntegerField()
    to = serializers.CharField()
    day = serializers.DateField(allow_null=True)
    until = serializers.TimeField(allow_null=True)

    def get_fields(self) -> dict[str, Any]:
        return {**super().get_fields(), "from": serializers.TimeField(allow_null=True)}


class WindowSerializer(serializers.Serializer[Any]):
    """The next hours in which the weather lets a job go, or why none are known."""

    known = serializers.BooleanField(help_text="False: no forecast, so nothing is offered.")
    to = serializers.DateTimeField(allow_null=True)
    zone = serializers.CharField()
    ends = serializers.CharField(allow_blank=True, help_text="What ends it.")
    closest = serializers.CharField(allow_blank=True, help_text="The limit that comes closest, and how close.")
    not_known = serializers.CharField(allow_blank=True, help_text="What nobody forecasts here: look for yourself.")
    sentence = serializers.CharField()

    def get_fields(self) -> dict[str, Any]:
        return {**super().get_fields(), "from": serializers.DateTimeField(allow_null=True)}


class AnswerSerializer(serializers.Serializer[Any]):
    """What a job is, where, until when, what holds it, what to bring and to heed."""

    job = serializers.IntegerField()
    title = serializers.CharField()
    operation = serializers.CharField()
    operation_name = serializers.CharField()
    instruction = serializers.CharField(allow_blank=True)
    plot = NamedSerializer()
    property = PlaceSerializer()
    season = SeasonNameSerializer()
    branch = serializers.CharField(allow_null=True, allow_blank=True)
    state = serializers.CharField()
    state_word = serializers.CharField()
    acres = serializers.FloatField(allow_null=True)
    acres_left = serializers.FloatField(allow_null=True)
    area = AreaSerializer(allow_null=True)
    area_left = AreaSerializer(allow_null=True)
    minutes = serializers.IntegerField(help_text="Of the work that is left.")
    earliest_start = serializers.DateTimeField(allow_null=True)
    opens_at = serializers.DateTimeField(
        allow_null=True, help_text="Of a held job: when the last of its holds clears by the clock; null: not by itself."
    )
    latest_start = serializers.DateTimeField(allow_null=True)
    start_by = serializers.DateField(allow_null=True, help_text="The latest start as a local day.")
    last_chance = serializers.DateTimeField(allow_null=True)
    look_by = serializers.DateTimeField(allow_null=True)
    slack_days = serializers.IntegerField(allow_null=True)
    critical = serializers.BooleanField()
    done_at = serializers.DateTimeField(allow_null=True)
    holds = HoldSerializer(many=True)
    bring = BringSerializer()
    least_crew = serializers.IntegerField()
    assigned = GivenSerializer(many=True)
    outcomes = serializers.ListField(child=serializers.CharField())
    cautions = CautionSerializer(many=True)
    weather = serializers.BooleanField(help_text="Its hours depend on the weather.")
    window = WindowSerializer(allow_null=True, help_text="Null where the weather has no say, or until it opens.")
    deadline_sentence = serializers.CharField(allow_blank=True)
    version = serializers.IntegerField()


class LinkedJobSerializer(serializers.Serializer[Any]):
    id = serializers.IntegerField()
    title = serializers.CharField()


class StepSerializer(serializers.Serializer[Any]):
    """One link of a chain, in words and with its source."""

    prerequisite = serializers.IntegerField()
    predecessor = LinkedJobSerializer()
    successor = LinkedJobSerializer()
    sentence = serializers.CharField()
    source = serializers.CharField(allow_blank=True)  # type: ignore[assignment]
    source_title = serializers.CharField(allow_blank=True)
    worth = serializers.CharField(allow_blank=True)
    note = serializers.CharField(allow_blank=True)


class WayOutSerializer(serializers.Serializer[Any]):
    kind = serializers.CharField()
    id = serializers.IntegerField(help_text="Of the branch, or of the prerequisite.")
    change_min = serializers.IntegerField(allow_null=True)
    sentence = serializers.CharField()


class TooLateSerializer(serializers.Serializer[Any]):
    sentence = serializers.CharField()
    short_by_minutes = serializers.IntegerField(allow_null=True)
    broken = StepSerializer(allow_null=True)
    chain = StepSerializer(many=True)
    ways_out = WayOutSerializer(many=True)


class ReckonedSerializer(serializers.Serializer[Any]):
    at = serializers.DateTimeField(help_text="When this reckoning last changed.")
    walked_at = serializers.DateTimeField(allow_null=True)
    facts_version = serializers.IntegerField()
    walked_version = serializers.IntegerField()


class ExplainedHoldSerializer(HoldSerializer):
    inputs = serializers.DictField(help_text="The figures that the rule read.")


class ClockSerializer(serializers.Serializer[Any]):
    prerequisite = serializers.IntegerField()
    over = serializers.DateTimeField(allow_null=True, help_text="When the wait is over for this part.")
    sentence = serializers.CharField()


class PartSerializer(serializers.Serializer[Any]):
    """A part of the job with its own clocks; the strictest is that of the part done last."""

    acres = serializers.FloatField()
    done_at = serializers.DateTimeField(allow_null=True)
    clocks = ClockSerializer(many=True)


class WhySerializer(serializers.Serializer[Any]):
    """The reasons behind a job's state and dates."""

    job = serializers.IntegerField()
    title = serializers.CharField()
    plot = NamedSerializer()
    property = PlaceSerializer()
    branch = serializers.CharField(allow_null=True, allow_blank=True)
    state = serializers.CharField()
    state_word = serializers.CharField()
    earliest_start = serializers.DateTimeField(allow_null=True)
    latest_start = serializers.DateTimeField(allow_null=True)
    latest_finish = serializers.DateTimeField(allow_null=True)
    start_by = serializers.DateField(allow_null=True)
    slack_days = serializers.IntegerField(allow_null=True)
    critical = serializers.BooleanField()
    deadline_sentence = serializers.CharField(allow_blank=True)
    last_chance = serializers.DateTimeField(allow_null=True)
    last_chance_sentence = serializers.CharField(allow_blank=True)
    look_by = serializers.DateTimeField(allow_null=True)
    look_by_sentence = serializers.CharField(allow_blank=True)
    holds = ExplainedHoldSerializer(many=True)
    chain = StepSerializer(many=True, help_text="Behind the earliest start, from the job back to where it begins.")
    begins = serializers.CharField(help_text="Where that chain begins.")
    too_late = TooLateSerializer(allow_null=True)
    call_by = serializers.CharField(allow_blank=True, help_text="Where no machine is there: until when one has to be.")
    parts = PartSerializer(many=True)
    notes = serializers.ListField(child=serializers.CharField())
    cautions = CautionSerializer(many=True)
    reckoned = ReckonedSerializer()
