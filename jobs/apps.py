"""The room `jobs`."""

from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"
