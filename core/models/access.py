"""Tokens for scripts, invitations for people. Secrets are stored as hashes and shown once."""

from django.db import models

from core.models.base import HoldingRow, one_of
from core.models.people import Person


class TokenKind(models.TextChoices):
    FULL = "full"
    REPORT = "report"
    READ = "read"


class Token(HoldingRow):
    """A script's key. It belongs to a person and so fixes the holding."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    name = models.CharField(max_length=60, blank=True)
    kind = models.CharField(max_length=8, choices=TokenKind.choices, default=TokenKind.FULL)
    prefix = models.CharField(max_length=8)
    sha256 = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [one_of("kind", TokenKind, "token_kind_known")]
        indexes = [models.Index(fields=["prefix"], name="token_prefix")]  # the look-up of every request with a token

    def __str__(self) -> str:
        return f"{self.prefix}… ({self.kind})"


class Invitation(HoldingRow):
    """A single-use way in for a person of the holding."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    sha256 = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"invitation of {self.person_id}"
