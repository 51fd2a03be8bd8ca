"""Work that the worker does for `jobs`. Every task finds its work in rows; ids are all that a message carries."""

import logging

from celery import current_app, shared_task
from django.utils import timezone

from core.models import Holding
from jobs.services.walking import differences, due_holdings, walk_holding

logger = logging.getLogger("readyground.walk")


@shared_task(name="jobs.tasks.wake", expires=60)
def wake() -> None:
    """Ask for a walk of every holding whose facts moved or whose clock passed its instant to look again."""
    for holding_id in due_holdings(timezone.now()):
        walk.delay(holding_id)


@shared_task(name="jobs.tasks.walk", expires=600)
def walk(holding_id: int) -> None:
    """Bring one holding up to its facts, and ring for its reminders."""
    if not Holding.objects.filter(pk=holding_id).exists():
        return
    done = walk_holding(holding_id)
    if done.notices:
        current_app.send_task("core.tasks.sweep")


@shared_task(name="jobs.tasks.check_whole", expires=3600)
def check_whole() -> None:
    """Walk every holding whole and say where what is stored differs: it never should."""
    for holding in Holding.objects.filter(state="active").order_by("id"):
        walk_holding(holding.pk)
        found = sorted(differences(holding.pk))
        if found:
            logger.error("holding %s: %s reckonings differ from a whole walk: %s", holding.pk, len(found), found[:20])
            walk_holding(holding.pk, whole=True)
