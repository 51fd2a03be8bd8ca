"""The room `jobs`: what, when and by whom."""

from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_delete, post_migrate


class JobsConfig(AppConfig):
    name = "jobs"

    def ready(self) -> None:
        from jobs import doorbell
        from jobs.models import Job

        doorbell.connect()
        post_delete.connect(label_what_is_left, sender=Job, dispatch_uid="jobs.parted")
        post_migrate.connect(store_shipped, sender=self, dispatch_uid="jobs.shipped")


def store_shipped(**more: Any) -> None:
    """After every migration the shipped sequences, sources and crops stand in their tables."""
    from jobs.services.sequences import load_reference, load_shipped

    load_reference()
    load_shipped()


def label_what_is_left(instance: Any, origin: Any, **more: Any) -> None:
    """Whoever removes a job, or what it hangs on, by whichever door: what hung together by it alone is parted."""
    from jobs.services.components import part_after_removal

    part_after_removal(job=instance, origin=origin)
