"""What stands around the jobs of a holding: quiet days, contracts, consents, machines, stock, certificates."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from datetime import datetime

from django.db.models import Sum

from core.models import Certificate, Holding
from jobs.facts import MachineFact
from jobs.folding import Folded
from jobs.graph.data import FAR, NEG
from jobs.minutes import ceil_minute, day_end, day_start
from jobs.models import Need, Override
from jobs.selectors.closures import ContractRow, QuietRow
from plots.models import Consent, Contract, Machine, MachineState, QuietTime, StockMove


class Around:
    """Quiet days, contracts, consents, machines, stock and certificates of the holding: one query each.

    With `components`, stock and overrides are those that their jobs read."""

    def __init__(self, holding: Holding, properties: set[int], components: Collection[int] | None = None) -> None:
        self.zone = holding.zone
        scope = {"holding_id": holding.pk, "property_id__in": properties}
        self.quiet: dict[int, list[QuietRow]] = defaultdict(list)
        for row in QuietTime.objects.filter(**scope, from_time__isnull=True).exclude(kind="way").order_by("id"):
            self.quiet[row.property_id].append(
                QuietRow(
                    row.pk,
                    row.kind,
                    row.property_id,
                    row.plot_id,
                    row.first_day,
                    row.last_day,
                    row.operation,
                    row.reason,
                )
            )
        self.contracts: dict[int, list[ContractRow]] = defaultdict(list)
        for contract in Contract.objects.filter(**scope).order_by("id"):
            self.contracts[contract.property_id].append(
                ContractRow(
                    contract.pk,
                    contract.property_id,
                    contract.plot_id,
                    contract.practice,
                    contract.first_day,
                    contract.last_day,
                    contract.closed_from,
                    contract.closed_to,
                    tuple(contract.closed_operations),
                    contract.source,
                )
            )
        self.consents: dict[int, list[Consent]] = defaultdict(list)
        for consent in Consent.objects.filter(**scope).order_by("id"):
            self.consents[consent.property_id].append(consent)
        self.machines: dict[str, list[tuple[int, MachineFact]]] = defaultdict(list)
        for machine in Machine.objects.filter(holding_id=holding.pk).order_by("id"):
            self.machines[machine.kind].append((machine.pk, self._machine(machine)))
        moves = StockMove.objects.filter(holding_id=holding.pk)
        overrides = Override.objects.filter(holding_id=holding.pk)
        if components is not None:
            wanted = Need.objects.filter(holding_id=holding.pk, job__component__in=components)
            moves = moves.filter(material__in=wanted.values("material"))
            overrides = overrides.filter(job__component__in=components)
        self.stock: dict[int, float] = dict(
            moves.values("material_id").annotate(total=Sum("quantity")).values_list("material_id", "total")
        )
        self.skills: dict[str, list[tuple[int, int | None]]] = defaultdict(list)
        for name, first, last in (
            Certificate.objects.filter(holding_id=holding.pk, person__active=True)
            .order_by("id")
            .values_list("skill__name", "valid_from", "valid_to")
        ):
            self.skills[name.lower()].append(
                (day_start(self.zone, first), None if last is None else day_end(self.zone, last))
            )

        self.overrides: dict[int, list[Override]] = defaultdict(list)
        for override in overrides.order_by("id"):
            self.overrides[override.job_id].append(override)

    def overridden(self, job: int, facts: Folded, now: datetime) -> tuple[frozenset[str], tuple[int, ...]]:
        """Kinds of holds set aside now, and the instants at which that ends; trouble reported later counts anew."""
        rules, changes = set(), []
        for override in self.overrides.get(job, ()):
            stale = override.rule == "trouble" and facts.trouble and facts.trouble.at > ceil_minute(override.at)
            if stale or (override.until is not None and override.until <= now):
                continue
            rules.add(override.rule)
            if override.until is not None:
                changes.append(ceil_minute(override.until))
        return frozenset(rules), tuple(sorted(changes))

    def label_until(self, job: int, now: datetime) -> int:
        """The minute of the last reason that sets aside what is not known of labels: it speaks of earlier sprays."""
        given = [
            ceil_minute(override.at)
            for override in self.overrides.get(job, ())
            if override.rule == "label" and (override.until is None or override.until > now)
        ]
        return max(given, default=FAR)

    def _machine(self, machine: Machine) -> MachineFact:
        until = None if machine.until is None else day_end(self.zone, machine.until)
        if machine.state == MachineState.WORKS:
            return MachineFact(machine.pk, NEG, None, machine.state)
        if machine.state == MachineState.HIRED:
            return MachineFact(machine.pk, NEG, until, machine.state)
        return MachineFact(machine.pk, until, None, machine.state)
