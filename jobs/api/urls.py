"""Addresses of this room under /api/."""

urlpatterns: list = []
