"""The tables of `plots`: where and with what."""

from plots.models.labels import Label, LabelActive, PlantBack
from plots.models.land import (
    Consent,
    Contract,
    CrewProperty,
    Plot,
    PlotKind,
    Property,
    QuietKind,
    QuietTime,
    TellFirst,
    Tenure,
)
from plots.models.limits import OwnLimit, Quantity
from plots.models.soil import SoilTest
from plots.models.stores import Crop, Droplet, Lot, Machine, MachineState, Material, Source, StockMove
from plots.models.water import Gauge, PropertyGauge, Reading
from plots.models.weather import Day, DayKind, Fetched, Hour, Normal, PropertySeries, RainTotal, Series

__all__ = [
    "Consent",
    "Contract",
    "CrewProperty",
    "Crop",
    "Day",
    "DayKind",
    "Droplet",
    "Fetched",
    "Gauge",
    "Hour",
    "Label",
    "LabelActive",
    "Lot",
    "Machine",
    "MachineState",
    "Material",
    "Normal",
    "OwnLimit",
    "PlantBack",
    "Plot",
    "PlotKind",
    "Property",
    "PropertyGauge",
    "PropertySeries",
    "Quantity",
    "QuietKind",
    "QuietTime",
    "RainTotal",
    "Reading",
    "Series",
    "SoilTest",
    "Source",
    "StockMove",
    "TellFirst",
    "Tenure",
]
