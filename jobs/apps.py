"""The room `jobs`: what, when and by whom."""

from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"

    def ready(self) -> None:
        from jobs import doorbell

        doorbell.connect()
