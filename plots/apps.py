"""The room `plots`."""

from django.apps import AppConfig


class PlotsConfig(AppConfig):
    name = "plots"
