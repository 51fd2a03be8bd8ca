"""What the pages of the jobs read from a form, with refusals in plain words."""

from __future__ import annotations

from typing import Any

from django import forms

from core.models import Crew, Holding, Person, Role
from jobs.models import ReportKind
from jobs.selectors.next import HOURS_ASKED
from jobs.sentences import REASONS

ACRES_ASKED = "Give acres as a number like 2.5, above 0 and at most 10,000."

TAPS = (
    ReportKind.START,
    ReportKind.DONE,
    ReportKind.COULD_NOT,
    ReportKind.SKIPPED,
    ReportKind.STILL_TO_DO,
    ReportKind.SEEN,
)


class ReportForm(forms.Form):
    """One report of a job: its kind by the button pressed, the rest where that asks for it."""

    client_id = forms.UUIDField(error_messages={"invalid": "Open the page again and send the report from there."})
    kind = forms.ChoiceField(choices=[(kind.value, kind.label) for kind in TAPS])
    acres = forms.FloatField(
        required=False,
        min_value=0.001,
        max_value=10_000,
        error_messages=dict.fromkeys(("invalid", "min_value", "max_value"), ACRES_ASKED),
    )
    outcome = forms.CharField(required=False, max_length=30, error_messages={"max_length": "Choose one of the ways."})
    reason = forms.ChoiceField(required=False, choices=[("", ""), *REASONS.items()])
    note = forms.CharField(
        required=False, max_length=2000, error_messages={"max_length": "Keep the note to 2,000 letters."}
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("kind") == ReportKind.COULD_NOT and not data.get("reason"):
            self.add_error("reason", "Say what stopped it.")
        return data


class HoursForm(forms.Form):
    """So many hours somebody has."""

    hours = forms.FloatField(
        required=False,
        min_value=0,
        max_value=24,
        error_messages=dict.fromkeys(("invalid", "min_value", "max_value"), HOURS_ASKED),
    )

    def clean_hours(self) -> float | None:
        hours: float | None = self.cleaned_data["hours"]
        if hours == 0:
            raise forms.ValidationError(HOURS_ASKED)
        return hours


class AsideForm(forms.Form):
    """A limit of a job's hours that is set aside, with the reason where one has to be written."""

    rule = forms.CharField(max_length=40, error_messages={"required": "Say which limit is set aside."})
    reason = forms.CharField(max_length=200, required=False)


class AssignForm(forms.Form):
    """Give a job to a person or a crew, for a day and hours or for whenever it fits."""

    to = forms.ChoiceField()
    day = forms.DateField(required=False, error_messages={"invalid": "Give the day like 2026-05-09."})
    starts = forms.TimeField(required=False, error_messages={"invalid": "Give the time like 6:40."})
    ends = forms.TimeField(required=False, error_messages={"invalid": "Give the time like 10:15."})

    def __init__(self, *args: Any, holding: Holding, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["to"] = forms.ChoiceField(choices=workers_of(holding))


def workers_of(holding: Holding) -> list[tuple[str, str]]:
    """(value, name) of everybody a job can be given to: people who work, then crews."""
    people = Person.objects.filter(holding=holding, active=True).exclude(role=Role.VIEWER).order_by("name")
    crews = Crew.objects.filter(holding=holding).order_by("name")
    return [*((f"person:{p.pk}", p.name) for p in people), *((f"crew:{c.pk}", c.name) for c in crews)]
