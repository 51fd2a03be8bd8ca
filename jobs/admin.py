"""The plan in the admin: facts to edit; reports, reckonings, sequences and overrides to look at.

Calling off and setting a hold aside have rules that need the walk, and so their place in the API."""

from typing import Any

from django.contrib import admin
from django.db import transaction
from django.db.models import Q, QuerySet
from django.http import HttpRequest

from core.admin import FactAdmin, SeenAdmin, holdings_of
from core.clock import now_at
from core.models import Person
from core.services.facts import lock_graph
from jobs.models import (
    Assignment,
    Branch,
    Job,
    Need,
    Observation,
    Override,
    Prerequisite,
    Reckoning,
    Report,
    Round,
    Season,
    Sequence,
    Sheet,
)
from jobs.services.assigning import assign_job, end_assignment
from jobs.services.components import relabel
from jobs.services.links import add_link, change_link, remove_link
from jobs.services.needs import remove_need, save_need
from jobs.services.single import add_job, change_job
from jobs.services.withdrawing import withdraw_season


class TiedAdmin(FactAdmin):
    """Rows that tie jobs together: what hangs together is found anew, under the graph's lock."""

    def store(self, row: Any, by: Person | None, fields: list[str]) -> None:
        with transaction.atomic():
            lock_graph(row.holding_id)
            self.write(row, by, fields)
            relabel(holding_id=row.holding_id)

    def write(self, row: Any, by: Person | None, fields: list[str]) -> None:
        super().store(row, by, fields)

    def discard(self, row: Any, by: Person | None) -> None:
        with transaction.atomic():
            lock_graph(row.holding_id)
            super().discard(row, by)
            relabel(holding_id=row.holding_id)


@admin.register(Season)
class SeasonAdmin(TiedAdmin):
    list_display = ("label", "plot", "year", "first_day", "last_day", "called_off_at")
    list_filter = ("holding", "year")
    list_select_related = ("plot",)
    raw_id_fields = ("plot", "sequence")
    readonly_fields = ("called_off_at",)

    def discard(self, row: Season, by: Person | None) -> None:
        withdraw_season(season=row, by=by)


@admin.register(Branch)
class BranchAdmin(TiedAdmin):
    list_display = ("key", "season", "group", "order", "expected", "called_off_at")
    list_select_related = ("season",)
    raw_id_fields = ("season", "parent", "opened_by")
    readonly_fields = ("called_off_at",)


@admin.register(Job)
class JobAdmin(TiedAdmin):
    list_display = ("title", "plot", "operation", "first_day", "last_day", "deadline", "called_off_at")
    list_filter = ("holding", "operation")
    list_select_related = ("plot",)
    search_fields = ("title", "plot__name")
    raw_id_fields = ("plot", "season", "branch", "round")
    readonly_fields = ("component", "version", "called_off_at")

    def write(self, row: Job, by: Person | None, fields: list[str]) -> None:
        if row._state.adding:
            add_job(job=row, by=by, fields=fields)
        else:
            change_job(job=row, by=by, fields=fields)


@admin.register(Prerequisite)
class PrerequisiteAdmin(FactAdmin):
    list_display = ("predecessor", "relation", "successor", "min_amount", "min_unit", "max_amount", "max_unit")
    list_select_related = ("predecessor", "successor")
    raw_id_fields = ("predecessor", "successor")

    def store(self, row: Prerequisite, by: Person | None, fields: list[str]) -> None:
        if row._state.adding:
            add_link(link=row, by=by)
        else:
            change_link(link=row, by=by, fields=fields)

    def discard(self, row: Prerequisite, by: Person | None) -> None:
        remove_link(link=row, by=by)


@admin.register(Need)
class NeedAdmin(FactAdmin):
    list_display = ("job", "kind", "name", "machine", "material", "rate_per_acre", "amount")
    list_filter = ("holding", "kind")
    list_select_related = ("job", "machine", "material")
    raw_id_fields = ("job", "machine", "material")

    def store(self, row: Need, by: Person | None, fields: list[str]) -> None:
        save_need(need=row, by=by, fields=fields)

    def discard(self, row: Need, by: Person | None) -> None:
        remove_need(need=row, by=by)


@admin.register(Assignment)
class AssignmentAdmin(FactAdmin):
    list_display = ("job", "person", "crew", "day", "starts", "ends", "state")
    list_filter = ("holding", "state")
    list_select_related = ("job", "person", "crew")
    raw_id_fields = ("job",)
    readonly_fields = ("state", "ended_at")
    actions = ("end",)

    def store(self, row: Assignment, by: Person | None, fields: list[str]) -> None:
        made = assign_job(
            holding_id=row.holding_id,
            job_id=row.job_id,
            by=by,
            person_id=row.person_id,
            crew_id=row.crew_id,
            day=row.day,
            starts=row.starts,
            ends=row.ends,
        )
        row.pk = made.pk

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False  # it is ended and given anew: the right to report late hangs on the old row

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    @admin.action(description="End", permissions=["add"])
    def end(self, request: HttpRequest, queryset: QuerySet[Assignment]) -> None:
        for assignment in queryset.select_related("holding").order_by("pk"):
            by = self.person_of(request, assignment)
            end_assignment(assignment=assignment, by=by, now=now_at(assignment.holding))


@admin.register(Observation)
class ObservationAdmin(SeenAdmin):
    """They come with reports, clear holds of flooded ground and open windows; who erred corrects the report."""

    list_display = ("plot", "kind", "at", "value")
    list_filter = ("holding", "kind")
    list_select_related = ("plot",)


@admin.register(Sheet)
class SheetAdmin(FactAdmin):
    list_display = ("job", "purpose", "permit_number", "boss", "least_crew", "agency_checked_on", "contact")
    list_select_related = ("job", "boss")
    raw_id_fields = ("job",)


@admin.register(Override)
class OverrideAdmin(SeenAdmin):
    list_display = ("job", "rule", "reason", "person", "at", "until")
    list_select_related = ("job", "person")


admin.site.register(Round, FactAdmin)


@admin.register(Report)
class ReportAdmin(SeenAdmin):
    list_display = ("happened_at", "person", "kind", "job", "plot", "acres")
    list_filter = ("holding", "kind")
    list_select_related = ("person", "job", "plot")
    date_hierarchy = "happened_at"


@admin.register(Reckoning)
class ReckoningAdmin(SeenAdmin):
    list_display = ("job", "state", "earliest_start", "latest_start", "slack_min", "changed_at")
    list_filter = ("holding", "state")
    list_select_related = ("job",)


@admin.register(Sequence)
class SequenceAdmin(SeenAdmin):
    """Versions are never edited; a change makes the next one, by the API."""

    list_display = ("name", "key", "version", "holding", "retired")
    list_filter = ("retired",)
    list_select_related = ("holding",)
    search_fields = ("name", "key")

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        shown = Q(holding__in=holdings_of(request)) | Q(holding=None)
        return Sequence.objects.filter(shown).order_by("key", "version")
