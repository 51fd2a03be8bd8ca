"""The composition of all addresses; other rooms are named by strings."""

from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("api/", include("jobs.api.urls")),  # what is asked most is found first
    path("api/", include("plots.api.urls")),
    path("api/", include("core.api.urls")),
    path("admin/", admin.site.urls),
    path("", include("core.page_urls")),
    path("", include("jobs.urls")),
]

handler400 = "core.api.errors.bad_request"
handler403 = "core.api.errors.permission_denied"
handler404 = "core.api.errors.page_not_found"
handler500 = "core.api.errors.server_error"
