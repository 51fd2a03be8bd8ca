"""Limits that a holding sets itself."""

from core.api.facts import FactSerializer, FactViewSet
from plots.models import OwnLimit


class OwnLimitSerializer(FactSerializer[OwnLimit]):
    class Meta:
        model = OwnLimit
        fields = ["id", "quantity", "least", "most", "operation", "machine", "plot", "person", "note"]


class OwnLimitViewSet(FactViewSet):
    """Bounds on the hours of work by a machine, a plot, a person or the holding's own rule. They only ever tighten.

    A machine's limit binds each job that takes it, or may take it while no machine of its kind is chosen; a person's
    binds each job given to them."""

    queryset = OwnLimit.objects.all()
    serializer_class = OwnLimitSerializer
    filterset_fields = {
        "quantity": ["exact"],
        "operation": ["exact"],
        "machine": ["exact", "isnull"],
        "plot": ["exact", "isnull"],
        "person": ["exact", "isnull"],
    }
