"""Addresses of this room under /api/."""

from django.urls import path
from rest_framework.routers import SimpleRouter

from jobs.api import jobs, plan, sequences, sheets, work
from jobs.api.amounts import JobCalculatorsView
from jobs.api.growth import JobChanceView, PlotChanceView, PlotDegreeDaysView, PlotGrowthView, PlotReplantView
from jobs.api.inbound import InboundView
from jobs.api.next import NextView, ProgressView

router = SimpleRouter(use_regex_path=False)
router.register("jobs", jobs.JobViewSet, "job")
router.register("sequences", sequences.SequenceViewSet, "sequence")
router.register("seasons", plan.SeasonViewSet, "season")
router.register("branches", plan.BranchViewSet, "branch")
router.register("prerequisites", plan.PrerequisiteViewSet, "prerequisite")
router.register("needs", plan.NeedViewSet, "need")
router.register("sheets", sheets.SheetViewSet, "sheet")
router.register("rounds", plan.RoundViewSet, "round")
router.register("assignments", work.AssignmentViewSet, "assignment")
router.register("reports", work.ReportViewSet, "report")
router.register("overrides", work.OverrideViewSet, "override")
router.register("observations", work.ObservationViewSet, "observation")

urlpatterns = [
    path("next/", NextView.as_view(), name="next-jobs"),
    path("progress/", ProgressView.as_view(), name="progress"),
    path("inbound/", InboundView.as_view(), name="inbound"),
    path("jobs/<int:pk>/chance/", JobChanceView.as_view(), name="job-chance"),
    path("plots/<int:pk>/chance/", PlotChanceView.as_view(), name="plot-chance"),
    path("plots/<int:pk>/degree-days/", PlotDegreeDaysView.as_view(), name="plot-degree-days"),
    path("plots/<int:pk>/growth/", PlotGrowthView.as_view(), name="plot-growth"),
    path("plots/<int:pk>/replant/", PlotReplantView.as_view(), name="plot-replant"),
    path("jobs/<int:pk>/calculators/", JobCalculatorsView.as_view(), name="job-calculators"),
    *router.urls,
]
