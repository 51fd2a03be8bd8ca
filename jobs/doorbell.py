"""Ring for a walk when facts changed. A bell that nobody hears loses nothing: the scheduler looks as well."""

import logging
from typing import Any

from core.services.facts import facts_touched

logger = logging.getLogger("readyground.walk")


def ring(sender: Any, holding_id: int, **more: Any) -> None:
    """Ask the worker to walk the holding; a broker that is away is noted and waited for."""
    from core.celery import app

    try:
        app.send_task("jobs.tasks.walk", [holding_id], retry=False)
    except Exception as error:
        logger.warning("holding %s: no bell for the walk (%s)", holding_id, type(error).__name__)


def connect() -> None:
    """Listen for changed facts."""
    facts_touched.connect(ring, dispatch_uid="jobs.doorbell")
