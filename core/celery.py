"""The task queue: a doorbell. What is to be done stands in rows; losing every message loses nothing."""

import os
from pathlib import Path

from celery import Celery

from core import broker

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "core.settings")
broker.register()
app = Celery("readyground")
app.set_default()  # for every thread: without it, a task rung from a web thread goes to a broker that is not there


def configure() -> None:
    """Set the queue up from Django's settings: Redis where REDIS_URL is set, else files in the data folder."""
    from django.conf import settings

    data = Path(settings.DATA)
    app.conf.update(
        task_acks_late=True,
        task_reject_on_worker_lost=True,
        task_ignore_result=True,
        worker_prefetch_multiplier=1,
        task_soft_time_limit=40,
        task_time_limit=60,
        broker_connection_max_retries=None,
        broker_connection_retry_on_startup=True,
        worker_max_tasks_per_child=200,
        worker_max_memory_per_child=250_000,  # kB; heard by processes, not by threads
        worker_eta_task_limit=100,
        worker_soft_shutdown_timeout=15,
        worker_enable_soft_shutdown_on_idle=True,
        timezone="UTC",
        enable_utc=True,
        worker_hijack_root_logger=False,
        beat_schedule_filename=str(data / "beat-schedule"),
        beat_schedule={
            "sweep": {"task": "core.tasks.sweep", "schedule": 15.0},
            "wake": {"task": "jobs.tasks.wake", "schedule": 30.0},
            "weather": {"task": "plots.tasks.bring_forecasts", "schedule": 1_800.0},
            "stations": {"task": "plots.tasks.bring_stations", "schedule": 3_600.0},
            "nightly": {"task": "jobs.tasks.check_whole", "schedule": 86_400.0},
        },
    )
    if settings.REDIS_URL:
        app.conf.update(
            broker_url=settings.REDIS_URL,
            visibility_timeout=300,
            result_backend_transport_options={"visibility_timeout": 300},
            broker_transport_options={
                "visibility_timeout": 300,
                "unacked_restore_interval": 5,
                "unacked_restore_throttle": 1,
                "health_check_interval": 25,
                "socket_keepalive": True,
                "socket_timeout": 10,
                "socket_connect_timeout": 5,
            },
        )
    else:
        folder = data / "broker"
        for name in ("messages", "processed", "control"):
            (folder / name).mkdir(parents=True, exist_ok=True)
        app.conf.update(
            broker_url="safefs://localhost",
            worker_enable_remote_control=False,
            broker_transport_options={
                "data_folder_in": str(folder / "messages"),
                "data_folder_out": str(folder / "messages"),
                "processed_folder": str(folder / "processed"),
                "control_folder": str(folder / "control"),
                "store_processed": False,
                "polling_interval": 0.5,
            },
        )


configure()
app.autodiscover_tasks()
