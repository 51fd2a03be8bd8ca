"""Addresses of this room under /api/."""

from django.urls import path
from django.views.decorators.cache import cache_page
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView
from rest_framework.routers import SimpleRouter

from core.api import log, people, tokens
from core.api.health import HealthView
from core.api.holding import HoldingView, MeView

router = SimpleRouter(use_regex_path=False)
router.register("people", people.PersonViewSet, "person")
router.register("ways", people.WayViewSet, "way")
router.register("free-times", people.FreeTimeViewSet, "free-time")
router.register("free-exceptions", people.FreeExceptionViewSet, "free-exception")
router.register("skills", people.SkillViewSet, "skill")
router.register("certificates", people.CertificateViewSet, "certificate")
router.register("crews", people.CrewViewSet, "crew")
router.register("tokens", tokens.TokenViewSet, "token")
router.register("events", log.EventViewSet, "event")
router.register("notices", log.NoticeViewSet, "notice")

docs = SpectacularSwaggerSplitView.as_view(url_name="schema", template_name="core/api_docs.html")

urlpatterns = [
    path("schema/", cache_page(3600)(SpectacularAPIView.as_view()), name="schema"),
    path("docs/", docs, name="api-docs"),
    path("health/", HealthView.as_view(), name="health"),
    path("holding/", HoldingView.as_view(), name="holding"),
    path("me/", MeView.as_view(), name="me"),
    *router.urls,
]
