"""Weather belongs to no holding: a series is a place's days and hours, and properties rank the series they read."""

from django.db import models
from django.db.models import Q

from core.models import Holding, HoldingRow, before, one_of
from plots.models.land import Property


class DayKind(models.TextChoices):
    OBSERVED = "observed"
    FORECAST = "forecast"


class Series(models.Model):
    """Values of one place from one source. A typed or gauge series belongs to the holding that keeps it."""

    source = models.CharField(max_length=40)
    place = models.CharField(max_length=60)
    name = models.CharField(max_length=120, blank=True)
    zone = models.CharField(max_length=64, default="America/Chicago")
    owner = models.ForeignKey(Holding, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    freeze = models.JSONField(
        default=dict, blank=True, help_text="Freeze days of the normals: {'32': {'spring': {'10': '05-11'}, ...}}."
    )

    class Meta:
        verbose_name_plural = "series"
        constraints = [models.UniqueConstraint(fields=["source", "place"], name="series_once")]

    def __str__(self) -> str:
        return self.name or f"{self.source} {self.place}"


class Day(models.Model):
    """High and low (degrees F) and rain (inches) of one local civil day."""

    series = models.ForeignKey(Series, on_delete=models.CASCADE, related_name="days")
    date = models.DateField()
    kind = models.CharField(max_length=8, choices=DayKind.choices, default=DayKind.OBSERVED)
    high_f = models.FloatField(null=True, blank=True)
    low_f = models.FloatField(null=True, blank=True)
    rain_in = models.FloatField(null=True, blank=True)
    issued_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["series", "date", "kind"],
                name="day_once",
                violation_error_message="This day is stored already.",
            ),
            models.CheckConstraint(
                condition=Q(high_f__isnull=True) | Q(low_f__isnull=True) | Q(high_f__gte=models.F("low_f")),
                name="day_high_low",
                violation_error_message="The day's high is below its low. Check both.",
            ),
            models.CheckConstraint(
                condition=(Q(high_f__isnull=True) | Q(high_f__gte=-80, high_f__lte=140))
                & (Q(low_f__isnull=True) | Q(low_f__gte=-90, low_f__lte=120))
                & (Q(rain_in__isnull=True) | Q(rain_in__gte=0, rain_in__lte=60)),
                name="day_range",
                violation_error_message="High -80 to 140 F, low -90 to 120 F, rain 0 to 60 in a day.",
            ),
            one_of("kind", DayKind, "day_kind_known"),
        ]

    def __str__(self) -> str:
        return f"{self.series_id} {self.date} {self.kind}"


class Hour(models.Model):
    """One hour of a series, its values as far as the source gives them; a gap stays a gap."""

    series = models.ForeignKey(Series, on_delete=models.CASCADE, related_name="hours")
    at = models.DateTimeField()
    kind = models.CharField(max_length=8, choices=DayKind.choices, default=DayKind.OBSERVED)
    issued_at = models.DateTimeField(null=True, blank=True)
    temp_f = models.FloatField(null=True, blank=True)
    humidity_pct = models.FloatField(null=True, blank=True)
    wind_mph = models.FloatField(null=True, blank=True)
    gust_mph = models.FloatField(null=True, blank=True)
    wind_dir_deg = models.FloatField(null=True, blank=True)
    rain_in = models.FloatField(null=True, blank=True)
    dew_point_f = models.FloatField(null=True, blank=True)
    sky_pct = models.FloatField(null=True, blank=True)
    rain_chance_pct = models.FloatField(null=True, blank=True)
    thunder_pct = models.FloatField(null=True, blank=True)
    lightning_level = models.FloatField(null=True, blank=True)
    mixing_ft = models.FloatField(null=True, blank=True)
    transport_mph = models.FloatField(null=True, blank=True)
    transport_dir_deg = models.FloatField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["series", "at", "kind"], name="hour_once"),
            models.CheckConstraint(
                condition=(Q(temp_f__isnull=True) | Q(temp_f__gte=-90, temp_f__lte=140))
                & (Q(humidity_pct__isnull=True) | Q(humidity_pct__gte=0, humidity_pct__lte=100))
                & (Q(wind_mph__isnull=True) | Q(wind_mph__gte=0, wind_mph__lte=250))
                & (Q(rain_in__isnull=True) | Q(rain_in__gte=0, rain_in__lte=20)),
                name="hour_range",
                violation_error_message=(
                    "Temperature -90 to 140 F, humidity 0 to 100 percent, wind 0 to 250 mph, rain 0 to 20 in."
                ),
            ),
            one_of("kind", DayKind, "hour_kind_known"),
        ]

    def __str__(self) -> str:
        return f"{self.series_id} {self.at} {self.kind}"


class RainTotal(models.Model):
    """Inches of rain in all over a stretch of hours, as a forecast gives it: never copied to each hour of it."""

    series = models.ForeignKey(Series, on_delete=models.CASCADE, related_name="rain_totals")
    starts = models.DateTimeField()
    ends = models.DateTimeField()
    kind = models.CharField(max_length=8, choices=DayKind.choices, default=DayKind.FORECAST)
    issued_at = models.DateTimeField(null=True, blank=True)
    rain_in = models.FloatField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["series", "starts", "ends", "kind"], name="rain_total_once"),
            before("starts", "ends", "rain_total_order", "The stretch of rain ends before it starts."),
            models.CheckConstraint(
                condition=Q(rain_in__gte=0, rain_in__lte=60),
                name="rain_total_range",
                violation_error_message="Rain of 0 to 60 in.",
            ),
            one_of("kind", DayKind, "rain_total_kind_known"),
        ]

    def __str__(self) -> str:
        return f"{self.series_id} {self.starts} to {self.ends}"


class Fetched(models.Model):
    """The last good answer of a public service, kept with its age and its validators. Belongs to nobody."""

    url = models.CharField(max_length=400, unique=True)
    body = models.BinaryField()
    etag = models.CharField(max_length=200, blank=True)
    last_modified = models.CharField(max_length=60, blank=True)
    fetched_at = models.DateTimeField()
    failed_at = models.DateTimeField(null=True, blank=True, help_text="Since when it fails, empty while it does not.")
    failure = models.CharField(max_length=200, blank=True)

    class Meta:
        verbose_name_plural = "fetched"

    def __str__(self) -> str:
        return self.url


class Normal(models.Model):
    """A station's daily normal for one day of the year ("02-28"); `degree_days` by spec where they are published."""

    series = models.ForeignKey(Series, on_delete=models.CASCADE, related_name="normals")
    month_day = models.CharField(max_length=5)
    high_f = models.FloatField(null=True, blank=True)
    low_f = models.FloatField(null=True, blank=True)
    rain_in = models.FloatField(null=True, blank=True)
    degree_days = models.JSONField(default=dict, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["series", "month_day"], name="normal_once"),
            models.CheckConstraint(condition=Q(month_day__regex=r"^[01]\d-[0-3]\d$"), name="normal_month_day"),
        ]

    def __str__(self) -> str:
        return f"{self.series_id} {self.month_day}"


class PropertySeries(HoldingRow):
    """The series a property reads, the lowest rank first; what the first does not know the next may."""

    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="ranked_series")
    rank = models.PositiveSmallIntegerField()
    series = models.ForeignKey(Series, on_delete=models.CASCADE, related_name="+")

    class Meta:
        verbose_name_plural = "property series"
        constraints = [
            models.UniqueConstraint(fields=["property", "rank"], name="property_series_rank"),
            models.UniqueConstraint(fields=["property", "series"], name="property_series_once"),
        ]

    def fact_keys(self) -> set[str]:
        return {f"property:{self.property_id}"}

    def __str__(self) -> str:
        return f"{self.property_id} reads {self.series_id} at {self.rank}"
