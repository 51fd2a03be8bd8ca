"""The room `jobs`: what, when and by whom."""

from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class JobsConfig(AppConfig):
    name = "jobs"

    def ready(self) -> None:
        from jobs import doorbell

        doorbell.connect()
        post_migrate.connect(store_shipped, sender=self, dispatch_uid="jobs.shipped")


def store_shipped(**more: Any) -> None:
    """After every migration the shipped sequences, sources and crops stand in their tables."""
    from jobs.services.sequences import load_reference, load_shipped

    load_reference()
    load_shipped()
