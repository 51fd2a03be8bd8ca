"""A manager's written reason against a hold that may be set aside, and the end of it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from functools import cache

from django.db import transaction

from core.errors import Refused
from core.models import Person
from core.services.rows import check_same_holding, save_row
from jobs.holds import OVERRIDABLE
from jobs.models import Override, Reckoning
from jobs.reference import limits
from jobs.selectors.windows import joined_of, limits_for
from jobs.windows.choosing import STEP_KEYS
from jobs.windows.limits import Verdict

KINDS = tuple(sorted(kind.value for kind in OVERRIDABLE))
BY_TAP = "Advice set aside by one tap."
"""The reason that is kept where advice is set aside without words."""


@cache
def overrulable_limits() -> Mapping[str, Verdict]:
    """Limits that may be set aside, by key: advice without a word, others by a written reason. A stop never is."""
    listed = {default.limit.key: default.limit.verdict for default in limits()}
    listed |= STEP_KEYS
    return {key: verdict for key, verdict in sorted(listed.items()) if verdict is not Verdict.STOP}


def set_aside(*, override: Override, by: Person, now: datetime) -> Override:
    """Store a written reason against a kind of hold that a job now has, or against a limit of its hours; `now` is the
    holding's. Advice goes without words, and the log remembers it.

    The hold or limit stays away until `override.until`, without one until the job is over. Order, waits, law and
    consent are changed as facts and cannot be set aside. Nothing here is permission: label and local codes decide.

    Raises:
        NotFound: the job is not in the holding.
        Refused: this kind cannot be set aside (`not_overridable`), the job has no such hold (`no_such_hold`), the end
            lies behind (`invalid`), or a rule of the table.
    """
    limit = overrulable_limits().get(override.rule)
    if override.rule not in KINDS and limit is None:
        raise Refused(
            f"A hold of the kind '{override.rule}' cannot be set aside. These can: {', '.join(KINDS)}.",
            code="not_overridable",
            field="rule",
            kinds=list(KINDS),
        )
    if limit is Verdict.ADVICE:
        override.reason = override.reason or BY_TAP
    override.person, override.at = by, now
    _check_end(override, now)
    with transaction.atomic():
        check_same_holding(override, override.holding_id)
        if limit is not None:
            _check_limit(override)
            save_row(row=override, by=by, fields=("job", "rule", "reason", "until"))
            return override
        holds = Reckoning.objects.filter(job=override.job_id).values_list("holds", flat=True).first() or []
        kinds = sorted({hold["kind"] for hold in holds})
        if override.rule not in kinds:
            raise Refused(
                f"No '{override.rule}' holds this job. It is held by: {', '.join(kinds) or 'nothing'}.",
                code="no_such_hold",
                field="rule",
                kinds=kinds,
            )
        save_row(row=override, by=by, fields=("job", "rule", "reason", "until"))
    return override


def change_end(*, override: Override, by: Person) -> Override:
    """Store another end of an override; the holding's instant ends it now.

    Raises:
        Refused: the end lies before the override was written.
    """
    _check_end(override, override.at)
    save_row(row=override, by=by, fields=("until",))
    return override


def _check_limit(override: Override) -> None:
    stored = Reckoning.objects.filter(pk=override.job_id).values_list("windows", flat=True).first() or {}
    bound = limits_for(override.job.operation, override.job.details, (), joined_of(stored)).by_key
    if override.rule in bound and bound[override.rule].verdict is Verdict.STOP:
        raise Refused(
            f"The {bound[override.rule].rank} sets this limit here, and that is no choice of yours.",
            code="not_overridable",
            field="rule",
        )
    if override.rule not in bound:
        raise Refused(
            f"No limit '{override.rule}' binds this job. These do: {', '.join(sorted(bound)) or 'none'}.",
            code="no_such_hold",
            field="rule",
            kinds=sorted(bound),
        )


def _check_end(override: Override, earliest: datetime) -> None:
    if override.until is not None and override.until < earliest:
        raise Refused(
            f"It would end before it begins. Give an end from {earliest:%Y-%m-%dT%H:%MZ} on, or none.",
            code="invalid",
            field="until",
        )
