"""Ring for a walk when facts changed. A bell that nobody hears loses nothing: the scheduler looks as well."""

import logging
from typing import Any

from core.services.facts import facts_touched

logger = logging.getLogger("readyground.walk")

AT_ONCE = {"max_retries": 0, "socket_connect_timeout": 1, "socket_timeout": 1, "health_check_interval": 0}
"""A report waits for its bell; with the queue's own patience that were six seconds where no broker is."""


def ring(sender: Any, holding_id: int, **more: Any) -> None:
    """Ask the worker to walk the holding; a broker that is away is noted and not waited for."""
    from core.celery import app

    try:
        with app.connection_for_write(transport_options=AT_ONCE) as link:
            app.send_task("jobs.tasks.walk", [holding_id], connection=link, retry=False)
    except Exception as error:
        logger.warning("holding %s: no bell for the walk (%s)", holding_id, type(error).__name__)


def connect() -> None:
    """Listen for changed facts."""
    facts_touched.connect(ring, dispatch_uid="jobs.doorbell")
