"""The composition of all addresses; other rooms are named by strings."""

from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("admin/", admin.site.urls),
    path("", include("core.page_urls")),
    path("", include("jobs.urls")),
    path("api/", include("core.api.urls")),
    path("api/", include("plots.api.urls")),
    path("api/", include("jobs.api.urls")),
]
