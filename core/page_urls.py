"""Pages of the shell: sign-in and sign-out."""

from django.urls import path  # noqa: F401

urlpatterns: list = []
