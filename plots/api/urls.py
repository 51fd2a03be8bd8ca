"""Addresses of this room under /api/."""

from django.urls import path
from rest_framework.routers import SimpleRouter

from plots.api import labels, land, limits, stores, weather
from plots.api.calculators import CalculatorsView, CalculatorView
from plots.api.imports import ImportView

router = SimpleRouter(use_regex_path=False)
router.register("properties", land.PropertyViewSet, "property")
router.register("consents", land.ConsentViewSet, "consent")
router.register("tell-first", land.TellFirstViewSet, "tell-first")
router.register("quiet-times", land.QuietTimeViewSet, "quiet-time")
router.register("contracts", land.ContractViewSet, "contract")
router.register("plots", land.PlotViewSet, "plot")
router.register("soil-tests", land.SoilTestViewSet, "soil-test")
router.register("crew-properties", land.CrewPropertyViewSet, "crew-property")
router.register("machines", stores.MachineViewSet, "machine")
router.register("materials", stores.MaterialViewSet, "material")
router.register("labels", labels.LabelViewSet, "label")
router.register("label-actives", labels.LabelActiveViewSet, "label-active")
router.register("plant-backs", labels.PlantBackViewSet, "plant-back")
router.register("own-limits", limits.OwnLimitViewSet, "own-limit")
router.register("lots", stores.LotViewSet, "lot")
router.register("stock-moves", stores.StockMoveViewSet, "stock-move")
router.register("crops", stores.CropViewSet, "crop")
router.register("sources", stores.SourceViewSet, "source")
router.register("series", weather.SeriesViewSet, "series")
router.register("days", weather.DayViewSet, "day")
router.register("hours", weather.HourViewSet, "hour")
router.register("property-series", weather.PropertySeriesViewSet, "property-series")
router.register("property-gauges", weather.PropertyGaugeViewSet, "property-gauge")

urlpatterns = [
    path("imports/", ImportView.as_view(), name="import"),
    path("calculators/", CalculatorsView.as_view(), name="calculator-list"),
    path("calculators/<slug:key>/", CalculatorView.as_view(), name="calculator-detail"),
    *router.urls,
]
