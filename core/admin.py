"""The facts in the admin. Every write goes through the services: it is checked, logged and wakes the walk."""

from collections.abc import Callable
from typing import Any, ClassVar

from django import forms
from django.contrib import admin, messages
from django.contrib.auth.admin import UserAdmin
from django.contrib.auth.forms import BaseUserCreationForm, UserChangeForm
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from core.errors import Refused
from core.models import (
    Certificate,
    Crew,
    CrewMember,
    Event,
    FreeException,
    FreeTime,
    Holding,
    HoldingRow,
    HoldingState,
    Invitation,
    Notice,
    Person,
    Role,
    Skill,
    Token,
    User,
    Way,
)
from core.services.holding import change_holding, make_holding
from core.services.notices import send_again
from core.services.people import remove_person, save_person
from core.services.rows import remove_row, save_row
from core.services.tokens import revoke_token

admin.site.site_header = admin.site.site_title = "Readyground"
admin.site.index_title = "Facts"


def _own(request: HttpRequest) -> QuerySet[Person]:
    """The persons that the signed-in user is."""
    return Person.objects.filter(user=request.user) if isinstance(request.user, User) else Person.objects.none()


def holdings_of(request: HttpRequest) -> QuerySet[Holding]:
    """The holdings whose facts this user may see: all for a superuser, for others those they manage."""
    if request.user.is_superuser:
        return Holding.objects.order_by("name", "id")
    managed = _own(request).filter(role=Role.MANAGER, active=True)
    return Holding.objects.filter(pk__in=managed.values("holding_id")).order_by("name", "id")


def open_holdings_of(request: HttpRequest) -> QuerySet[Holding]:
    """Those of them in which something may be changed. A closed one is only looked at."""
    return holdings_of(request).filter(state=HoldingState.ACTIVE)


def manages(request: HttpRequest) -> bool:
    """Whether the user is an active manager of some holding."""
    return bool(request.user.is_active) and _own(request).filter(role=Role.MANAGER, active=True).exists()


def _may_enter(request: HttpRequest) -> bool:
    """Staff, and managers: these see and edit the facts of their own holdings and nothing else."""
    return bool(request.user.is_active and request.user.is_staff) or manages(request)


admin.site.has_permission = _may_enter  # type: ignore[method-assign]


class RefusalsShown(admin.ModelAdmin):
    """What a service refuses is a sentence above the page; nothing of the request is stored."""

    list_per_page = 50
    show_full_result_count = False

    def changeform_view(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        return self._told(request, super().changeform_view, *args, **kwargs)

    def delete_view(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        return self._told(request, super().delete_view, *args, **kwargs)

    def changelist_view(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        return self._told(request, super().changelist_view, *args, **kwargs)

    def _told(self, request: HttpRequest, view: Callable[..., HttpResponse], *args: Any, **kwargs: Any) -> HttpResponse:
        try:
            return view(request, *args, **kwargs)
        except Refused as error:
            self.message_user(request, f"{error.sentence} Nothing was stored.", messages.ERROR)
            return redirect(request.get_full_path())


class HoldingScoped(RefusalsShown):
    """Rows of the user's holdings only, in lists, pages and choices."""

    list_filter: ClassVar[tuple[str, ...]] = ("holding",)

    def has_module_permission(self, request: HttpRequest) -> bool:
        return super().has_module_permission(request) or manages(request)

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return super().has_view_permission(request, obj) or manages(request)

    def has_add_permission(self, request: HttpRequest) -> bool:
        return super().has_add_permission(request) or (manages(request) and open_holdings_of(request).exists())

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return (super().has_change_permission(request, obj) or manages(request)) and self.is_open(request, obj)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return (super().has_delete_permission(request, obj) or manages(request)) and self.is_open(request, obj)

    @staticmethod
    def is_open(request: HttpRequest, row: HoldingRow | None) -> bool:
        """Whether the row may be changed as far as its holding goes; without one, whether any row may."""
        return row is None or open_holdings_of(request).filter(pk=row.holding_id).exists()

    @staticmethod
    def person_of(request: HttpRequest, row: HoldingRow) -> Person | None:
        """The user's person in the row's holding, for the log; a superuser need not be a member."""
        return _own(request).filter(holding_id=row.holding_id).first()

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        rows = super().get_queryset(request)
        return rows if request.user.is_superuser else rows.filter(holding__in=holdings_of(request))

    def get_list_filter(self, request: HttpRequest) -> Any:
        given = super().get_list_filter(request)
        return given if request.user.is_superuser else [name for name in given if name != "holding"]

    def formfield_for_foreignkey(self, db_field: Any, request: HttpRequest, **kwargs: Any) -> Any:
        target = db_field.remote_field.model
        if target is Holding:
            kwargs["queryset"] = open_holdings_of(request)
        elif issubclass(target, HoldingRow) and not request.user.is_superuser:
            kwargs["queryset"] = target._default_manager.filter(holding__in=holdings_of(request))
        return super().formfield_for_foreignkey(db_field, request, **kwargs)


class FactAdmin(HoldingScoped):
    """Base of every page that edits a fact. A fact whose write has rules of its own overrides `store` and `discard`."""

    def store(self, row: Any, by: Person | None, fields: list[str]) -> None:
        save_row(row=row, by=by, fields=fields)

    def discard(self, row: Any, by: Person | None) -> None:
        remove_row(row=row, by=by)

    def formfield_for_dbfield(self, db_field: Any, request: HttpRequest, **kwargs: Any) -> Any:
        """Each field carries what it showed, so that an old page changes what was edited on it and nothing else."""
        field = super().formfield_for_dbfield(db_field, request, **kwargs)
        if field is not None:
            field.show_hidden_initial = True
        return field

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        given = super().get_readonly_fields(request, obj)
        return given if obj is None else [*given, "holding"]  # a fact never moves to another holding

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        self.store(obj, self.person_of(request, obj), [name for name in form.changed_data if name != "holding"])

    def delete_model(self, request: HttpRequest, obj: Any) -> None:
        self.discard(obj, self.person_of(request, obj))

    def delete_queryset(self, request: HttpRequest, queryset: QuerySet[Any]) -> None:
        with transaction.atomic():
            for row in queryset.order_by("pk"):
                self.delete_model(request, row)


class SeenAdmin(HoldingScoped):
    """Base of every page that shows what is never edited by hand."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class SharedAdmin(RefusalsShown):
    """Base of what belongs to no holding: for superusers alone."""

    def has_module_permission(self, request: HttpRequest) -> bool:
        return bool(request.user.is_superuser)

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return bool(request.user.is_superuser)

    has_change_permission = has_delete_permission = has_view_permission

    def has_add_permission(self, request: HttpRequest) -> bool:
        return bool(request.user.is_superuser)


@admin.register(Holding)
class HoldingAdmin(SharedAdmin):
    list_display = ("name", "zone", "units", "clock_at", "state")

    def save_model(self, request: HttpRequest, obj: Holding, form: Any, change: bool) -> None:
        if change:
            changes = {name: form.cleaned_data[name] for name in form.changed_data}
            by = _own(request).filter(holding=obj).first()
            change_holding(holding=obj, by=by, changes=changes)
        else:
            make_holding(holding=obj)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False  # a holding is closed, its reports are kept


class NewUserForm(BaseUserCreationForm):
    class Meta:
        model = User
        fields = ("email",)
        field_classes = {"email": forms.EmailField}


class UserForm(UserChangeForm):
    class Meta:
        model = User
        fields = "__all__"
        field_classes = {"email": forms.EmailField}


@admin.register(User)
class SignInAdmin(UserAdmin):
    """Who signs in: superusers alone, for a sign-in may belong to several holdings."""

    form, add_form = UserForm, NewUserForm
    list_display = ("email", "is_active", "is_staff", "last_login")
    list_filter = ("is_active", "is_staff")
    search_fields = ("email",)
    ordering = ("email",)
    fieldsets = (
        (None, {"fields": ("email", "password", "is_active")}),
        ("Admin", {"fields": ("is_staff", "is_superuser", "groups", "user_permissions")}),
    )
    add_fieldsets = ((None, {"classes": ("wide",), "fields": ("email", "password1", "password2")}),)

    def has_module_permission(self, request: HttpRequest) -> bool:
        return bool(request.user.is_superuser)

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return bool(request.user.is_superuser)

    has_change_permission = has_delete_permission = has_view_permission

    def has_add_permission(self, request: HttpRequest) -> bool:
        return bool(request.user.is_superuser)


@admin.register(Person)
class PersonAdmin(FactAdmin):
    list_display = ("name", "role", "holding", "active")
    list_filter = ("holding", "role", "active")
    search_fields = ("name",)
    raw_id_fields = ("user",)

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        """Who signs in as whom comes by invitation; else a manager could name any user there is."""
        given = super().get_readonly_fields(request, obj)
        return given if request.user.is_superuser else [*given, "user"]

    def store(self, row: Person, by: Person | None, fields: list[str]) -> None:
        save_person(person=row, by=by, fields=fields)

    def discard(self, row: Person, by: Person | None) -> None:
        remove_person(person=row, by=by)


@admin.register(Way)
class WayAdmin(FactAdmin):
    list_display = ("person", "kind", "verified_at", "holding")
    list_select_related = ("person", "holding")
    readonly_fields = ("verified_at", "stopped_at")  # the owner's own word, by a code and by the link in each message


@admin.register(FreeTime)
class FreeTimeAdmin(FactAdmin):
    list_display = ("person", "weekday", "starts", "ends")
    list_select_related = ("person",)


@admin.register(FreeException)
class FreeExceptionAdmin(FactAdmin):
    list_display = ("person", "day", "starts", "ends", "free")
    list_select_related = ("person",)


@admin.register(Certificate)
class CertificateAdmin(FactAdmin):
    list_display = ("person", "skill", "valid_from", "valid_to")
    list_select_related = ("person", "skill")


@admin.register(CrewMember)
class CrewMemberAdmin(FactAdmin):
    list_display = ("crew", "person")
    list_select_related = ("crew", "person")


admin.site.register([Skill, Crew], FactAdmin)


@admin.register(Token)
class TokenAdmin(SeenAdmin):
    list_display = ("prefix", "person", "kind", "expires_at", "revoked_at", "last_used_at")
    list_select_related = ("person",)
    exclude = ("sha256",)
    actions = ("revoke",)

    @admin.action(description="Revoke", permissions=["view"])
    def revoke(self, request: HttpRequest, queryset: QuerySet[Token]) -> None:
        for token in queryset.order_by("pk"):
            revoke_token(token=token, by=self.person_of(request, token))


@admin.register(Invitation)
class InvitationAdmin(SeenAdmin):
    list_display = ("person", "created_at", "expires_at", "used_at")
    list_select_related = ("person",)
    exclude = ("sha256",)


@admin.register(Notice)
class NoticeAdmin(SeenAdmin):
    list_display = ("kind", "person", "way_kind", "due_at", "state", "attempts", "last_error")
    list_filter = ("holding", "state", "kind", "way_kind")
    list_select_related = ("person",)
    date_hierarchy = "due_at"
    actions = ("send_parked_again",)

    @admin.action(description="Send parked ones again", permissions=["view"])
    def send_parked_again(self, request: HttpRequest, queryset: QuerySet[Notice]) -> None:
        by_holding: dict[int, list[int]] = {}
        parked = queryset.filter(holding__in=open_holdings_of(request))
        for holding_id, pk in parked.values_list("holding_id", "pk"):
            by_holding.setdefault(holding_id, []).append(pk)
        count = sum(send_again(holding_id=holding_id, ids=ids) for holding_id, ids in sorted(by_holding.items()))
        self.message_user(request, f"{count} put back into the queue.")


@admin.register(Event)
class EventAdmin(SeenAdmin):
    list_display = ("at", "person", "verb", "object", "object_id")
    list_filter = ("holding", "verb", "object")
    list_select_related = ("person",)
    date_hierarchy = "at"
