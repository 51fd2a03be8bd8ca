"""Who signs in, who works, when they are free, what they are licensed for."""

from datetime import time
from typing import Any

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager, PermissionsMixin
from django.db import models
from django.db.models.functions import Lower

from core.models.base import HoldingRow, before, one_of


class Users(BaseUserManager["User"]):
    def create_user(self, email: str, password: str | None = None, **extra: Any) -> "User":
        user = self.model(email=email.strip().lower(), **extra)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def create_superuser(self, email: str, password: str | None = None, **extra: Any) -> "User":
        return self.create_user(email, password, is_staff=True, is_superuser=True, **extra)


class User(AbstractBaseUser, PermissionsMixin):
    """Somebody who signs in. What they may do in a holding hangs on their person there."""

    email = models.EmailField(max_length=254)
    is_staff = models.BooleanField(default=False)
    is_active = models.BooleanField(default=True)
    joined_at = models.DateTimeField(auto_now_add=True)

    objects = Users()
    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"

    class Meta:
        constraints = [
            models.UniqueConstraint(
                Lower("email"),
                name="user_email_once",
                violation_error_message="This address signs in already.",
            )
        ]

    def __str__(self) -> str:
        return self.email


class Role(models.TextChoices):
    MANAGER = "manager"
    HELPER = "helper"
    VIEWER = "viewer"


class Person(HoldingRow):
    """A member of one holding."""

    user = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, blank=True, related_name="persons")
    name = models.CharField(max_length=80)
    role = models.CharField(max_length=8, choices=Role.choices, default=Role.HELPER)
    zone = models.CharField(max_length=64, blank=True, help_text="Empty: the holding's zone.")
    active = models.BooleanField(default=True)
    evening_at = models.TimeField(default=time(18), help_text="When the evening message goes, in the person's zone.")

    class Meta:
        verbose_name_plural = "people"
        constraints = [
            models.UniqueConstraint(
                fields=["holding", "name"],
                name="person_name_once",
                violation_error_message="A person of this name is in the holding already.",
            ),
            models.UniqueConstraint(
                fields=["holding", "user"],
                name="person_user_once",
                violation_error_message="This sign-in belongs to another person of the holding already.",
            ),
            one_of("role", Role, "person_role_known"),
        ]

    def fact_keys(self) -> set[str]:
        return {"people"}

    def __str__(self) -> str:
        return self.name


class WayKind(models.TextChoices):
    MAIL = "mail"
    FILE = "file"
    CONSOLE = "console"
    WEBHOOK = "webhook"


class Way(HoldingRow):
    """One way to reach a person."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="ways")
    kind = models.CharField(max_length=8, choices=WayKind.choices)
    address = models.CharField(max_length=254, blank=True)
    verified_at = models.DateTimeField(null=True, blank=True)
    quiet_from = models.TimeField(null=True, blank=True)
    quiet_to = models.TimeField(null=True, blank=True)
    daily_limit = models.PositiveSmallIntegerField(default=20)
    stopped_at = models.DateTimeField(null=True, blank=True, help_text="Since when the person wants nothing this way.")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["person", "kind", "address"],
                name="way_once",
                violation_error_message="This way to reach the person is listed already.",
            ),
            one_of("kind", WayKind, "way_kind_known"),
        ]

    def __str__(self) -> str:
        return f"{self.person} by {self.kind}"


class FreeTime(HoldingRow):
    """Hours of a weekday (0 is Monday) in which a person can work, in the person's zone."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="free_times")
    weekday = models.PositiveSmallIntegerField()
    starts = models.TimeField()
    ends = models.TimeField()

    class Meta:
        constraints = [
            before(
                "starts",
                "ends",
                "free_time_order",
                "Free hours end before they start. Give an end after the start.",
            ),
            models.CheckConstraint(
                condition=models.Q(weekday__lte=6),
                name="free_time_weekday",
                violation_error_message="Weekday is a number from 0 (Monday) to 6 (Sunday).",
            ),
            models.UniqueConstraint(
                fields=["person", "weekday", "starts"],
                name="free_time_once",
                violation_error_message="These free hours are listed already.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person} weekday {self.weekday} {self.starts}-{self.ends}"


class FreeException(HoldingRow):
    """One day that differs: free hours besides the usual ones, or hours that are taken after all."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="free_exceptions")
    day = models.DateField()
    starts = models.TimeField()
    ends = models.TimeField()
    free = models.BooleanField(default=False)
    note = models.CharField(max_length=120, blank=True)

    class Meta:
        constraints = [
            before(
                "starts",
                "ends",
                "free_exception_order",
                "The hours end before they start. Give an end after the start.",
            )
        ]
        indexes = [models.Index(fields=["person", "day"], name="free_exception_day")]

    def __str__(self) -> str:
        return f"{self.person} {self.day} {'free' if self.free else 'taken'}"


class Skill(HoldingRow):
    """Something not everybody may or can do: certified applicator, burn boss, saw, planter."""

    name = models.CharField(max_length=60)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["holding", "name"],
                name="skill_name_once",
                violation_error_message="A skill of this name is listed already.",
            )
        ]

    def fact_keys(self) -> set[str]:
        return {"people"}

    def __str__(self) -> str:
        return self.name


class Certificate(HoldingRow):
    """A person's proof of a skill, valid from first to last day inclusive; without a last day it does not end."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="certificates")
    skill = models.ForeignKey(Skill, on_delete=models.CASCADE, related_name="+")
    number = models.CharField(max_length=40, blank=True)
    valid_from = models.DateField()
    valid_to = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            before(
                "valid_from",
                "valid_to",
                "certificate_order",
                "The certificate ends before it starts. Give a last day on or after the first.",
                or_equal=True,
                or_null=True,
            ),
            models.UniqueConstraint(
                fields=["person", "skill", "valid_from"],
                name="certificate_once",
                violation_error_message="This certificate is listed already.",
            ),
        ]

    def fact_keys(self) -> set[str]:
        return {"people"}

    def __str__(self) -> str:
        return f"{self.person}: {self.skill}"


class Crew(HoldingRow):
    """People who go out together."""

    name = models.CharField(max_length=60)
    members = models.ManyToManyField(Person, through="CrewMember", related_name="crews")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["holding", "name"],
                name="crew_name_once",
                violation_error_message="A crew of this name is listed already.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class CrewMember(HoldingRow):
    crew = models.ForeignKey(Crew, on_delete=models.CASCADE, related_name="+")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["crew", "person"],
                name="crew_member_once",
                violation_error_message="This person is in the crew already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} in {self.crew}"
