"""The hours of one job, and when a burn can be lit at the latest."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from core.api.facts import StrictSerializer
from core.api.fields import ClockTime, Figure, Instant, Line, Whole
from jobs.api.fields import Id
from jobs.minutes import ceil_minute, floor_minute

DAY_MIN = 1_440


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
    frost = serializers.CharField(allow_blank=True, help_text="Of planting: in how many years it freezes after it.")
    soil_water = serializers.CharField(
        allow_blank=True,
        help_text="By which formulas the soil's water is reckoned, on how many days each.",
    )
    on_the_spot = serializers.ListField(child=serializers.CharField(), help_text="What no hour changes: look there.")


class PrescriptionSerializer(StrictSerializer):
    """Hours in prescription, as the burn boss reads them."""

    to = Instant()

    def get_fields(self) -> dict[str, Any]:
        return {**super().get_fields(), "from": Instant()}

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if attrs["from"] >= attrs["to"]:
            raise serializers.ValidationError({"to": "These hours end before they begin."})
        return attrs


class SparedSerializer(StrictSerializer):
    """A place that smoke must not reach."""

    name = Line(max_length=80)
    bearing_deg = Figure(min_value=0, max_value=360, help_text="From the unit towards the place, clockwise from north.")
    degrees = Figure(min_value=1, max_value=120, help_text="The wind stays so far off the way there.")


class BurnPlanSerializer(StrictSerializer):
    """The figures of a unit's written plan that its hours hang on. What it names and nobody knows leaves no hours."""

    burn_out_min = Whole(min_value=1, max_value=DAY_MIN)
    mop_up_min = Whole(min_value=0, max_value=DAY_MIN)
    briefing_min = Whole(min_value=0, max_value=DAY_MIN)
    least_crew = Whole(min_value=2, max_value=200)
    prescription = PrescriptionSerializer(many=True, required=False, help_text="Typed; without it the windows count.")
    mixing_least_ft = Figure(min_value=1, max_value=40_000, required=False)
    moisture_least_pct = Figure(min_value=1, max_value=60, required=False, help_text="Of fine dead fuel.")
    moisture_most_pct = Figure(min_value=1, max_value=60, required=False)
    shaded = serializers.BooleanField(required=False, help_text="By more than half; fuel moisture needs it.")
    aspect_deg = Figure(min_value=0, max_value=360, required=False, help_text="The way the slope faces.")
    slope_pct = Figure(min_value=0, max_value=200, required=False)
    dry_days = Whole(min_value=1, max_value=45, required=False, help_text="Days since more than dry_rain_in of rain.")
    dry_rain_in = Figure(min_value=0, max_value=5, required=False)
    smoke = SparedSerializer(many=True, required=False, help_text="Houses, roads, schools the smoke must not reach.")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if {"moisture_least_pct", "moisture_most_pct"} & attrs.keys():
            missing = [name for name in ("shaded", "aspect_deg", "slope_pct") if name not in attrs]
            if missing:
                raise serializers.ValidationError(
                    {missing[0]: "Fuel moisture is reckoned for a slope: give shaded, aspect_deg and slope_pct."}
                )
            if attrs.get("moisture_least_pct", 0) > attrs.get("moisture_most_pct", 100):
                raise serializers.ValidationError({"moisture_most_pct": "The least lies above the most."})
        return attrs

    def plan(self) -> dict[str, Any]:
        """The plan as it is stored, its hours in whole minutes rounded inwards."""
        told = dict(self.validated_data)
        if "prescription" in told:
            told["prescription"] = sorted([ceil_minute(p["from"]), floor_minute(p["to"])] for p in told["prescription"])
        return told


class SplitSerializer(StrictSerializer):
    """Whether a job may be done in pieces, and the least of them."""

    may_split = serializers.BooleanField()
    least_piece_min = Whole(min_value=15, max_value=DAY_MIN, required=False, help_text="Needed where it may be split.")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if attrs["may_split"] and "least_piece_min" not in attrs:
            raise serializers.ValidationError({"least_piece_min": "Say how long a piece is at least, in minutes."})
        return attrs


class CrewQuery(StrictSerializer):
    crew = Line(
        max_length=400,
        required=False,
        allow_blank=True,
        default="",
        help_text="Ids of those who said yes, with commas between: 2,3,4.",
    )
    travel_min = serializers.IntegerField(min_value=0, max_value=DAY_MIN, default=0, help_text="Their way there.")
    free_at = ClockTime(required=False, help_text="When all are free on the day; without it by their free hours.")

    def validate_crew(self, told: str) -> list[int]:
        one = Id()
        return sorted({one.run_validation(part) for part in told.split(",") if part})


class PlanSerializer(serializers.Serializer[Any]):
    burn_out_min = serializers.IntegerField()
    mop_up_min = serializers.IntegerField()
    briefing_min = serializers.IntegerField()
    least_crew = serializers.IntegerField()


class EveningSerializer(serializers.Serializer[Any]):
    """One stretch in prescription and what the crew can make of it."""

    to = serializers.DateTimeField()
    latest_ignition = serializers.DateTimeField()
    binds = serializers.ChoiceField(choices=["prescription", "light"])
    light_ends = serializers.DateTimeField()
    ready = serializers.DateTimeField(allow_null=True, help_text="When the crew is there and briefed.")
    short_min = serializers.IntegerField()
    leave_by = serializers.DateTimeField(help_text="When everybody has to leave at the latest.")
    crew_short = serializers.IntegerField(help_text="So many people are missing.")
    can_be = serializers.BooleanField()
    verdict = serializers.CharField()
    sentence = serializers.CharField()

    def get_fields(self) -> dict[str, Any]:
        return {**super().get_fields(), "from": serializers.DateTimeField()}


class IgnitionSerializer(serializers.Serializer[Any]):
    """Whether a burn can be lit, by arithmetic alone. Nothing here is permission."""

    job = serializers.IntegerField()
    zone = serializers.CharField()
    plan = PlanSerializer()
    known = serializers.BooleanField(help_text="False: no hours in prescription are known, so no.")
    typed = serializers.BooleanField(help_text="The hours were typed; else they are windows of the forecast.")
    can_be = serializers.BooleanField(help_text="Of the next stretch.")
    evenings = EveningSerializer(many=True)
    last_legal_day = serializers.DateField(allow_null=True, help_text="Before the contract closes the season.")
    legal_again = serializers.DateField(allow_null=True)
    sentence = serializers.CharField()
    decides = serializers.CharField()
