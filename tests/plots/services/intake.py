"""Bring files to the import, and look at everything that it may have touched."""

from pathlib import Path
from typing import Any

from core.models import Crew, CrewMember, Event, Graph, Holding, Person, Way
from plots.models import Day, Hour, Lot, Machine, Material, Plot, Property, Series, StockMove
from plots.services.importing import Imported, import_file

EXAMPLES = Path(__file__).parents[3] / "fixtures" / "imports"
FACTS = (Property, Plot, Person, Way, Crew, CrewMember, Machine, Material, Lot, StockMove, Series, Day, Hour, Event)


def example(name: str) -> bytes:
    return (EXAMPLES / name).read_bytes()


def everything() -> list[list[Any]]:
    return [list(model._default_manager.order_by("pk").values()) for model in FACTS]


def versions(*holdings: Holding) -> list[int]:
    return [Graph.objects.get(holding=holding).facts_version for holding in holdings]


def take(holding: Holding, kind: str, text: str | bytes, **more: Any) -> Imported:
    data = text if isinstance(text, bytes) else text.encode()
    return import_file(**{"holding": holding, "kind": kind, "data": data, "by": None} | more)


def refusals(imported: Imported) -> list[str]:
    return [refusal.sentence for refusal in imported.refused]
