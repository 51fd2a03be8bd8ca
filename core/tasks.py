"""Work that the worker does for `core`. Every task finds its work in rows, so a lost or doubled call does no harm."""

from celery import shared_task

from core.services import notices


@shared_task(name="core.tasks.sweep", expires=60)
def sweep() -> None:
    """Send what is due."""
    notices.sweep()
