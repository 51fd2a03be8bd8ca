"""The room `core`: who works, delivery of messages, API plumbing, page shell."""

from django.apps import AppConfig


class CoreConfig(AppConfig):
    name = "core"

    def ready(self) -> None:
        """Load the task queue here: an import in `core/__init__.py` would drag it into every import of the room."""
        from core import celery  # noqa: F401
