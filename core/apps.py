"""The room `core`: who works, delivery of messages, API plumbing, page shell."""

from django.apps import AppConfig


class CoreConfig(AppConfig):
    name = "core"

    def ready(self) -> None:
        """Load the checks and the task queue here: an import in `core/__init__.py` would drag them in everywhere."""
        from core import celery, checks  # noqa: F401
