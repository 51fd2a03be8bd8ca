"""What joins the general limits of jobs: labels of the mix, the plan of a burn, and the limits of machine, plot, person
and holding. One query, and up to ten more where there are sprays, own limits or burn plans that read them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from core.models import Holding
from jobs.law.data import SPRAYS
from jobs.minutes import day_start, local_day
from jobs.models import NeedKind
from jobs.reference import reference
from jobs.selectors.facts.law_rows import confirmed_people
from jobs.selectors.facts.rows import JobRow, few
from jobs.selectors.facts.sprays import read_needs
from jobs.selectors.weather import PropertyWeather, property_weather
from jobs.windows.choosing import NOTHING, Joined
from jobs.windows.label import LabelHours, label_limits
from jobs.windows.limits import Limit, Rank
from jobs.windows.own import own_limit
from jobs.windows.plan import RAIN_IN, optional_of, plan_limits
from plots.models import Machine, Material, OwnLimit

LABEL_FIELDS = tuple(LabelHours.__dataclass_fields__)
MOST_DRY_DAYS = 60
"""So far back daily rain is read for a plan that counts days since rain."""


@dataclass(frozen=True, slots=True)
class Own:
    """A limit of the holding's own and what it is of: no plot, machine and person is all."""

    limit: Limit
    operation: str
    plot: int | None
    machine: int | None
    person: int | None


class JoinedLimits:
    """The limits that join those of the jobs of `rows`, whose hours begin with the minute `first`."""

    def __init__(self, holding: Holding, rows: Mapping[int, JobRow], first: int, own: Sequence[Own]) -> None:
        self.own = own
        self.needs: Mapping[int, list[Any]] = {}
        self.mixes: dict[int, LabelHours] = {}
        sprays = [job for job, row in rows.items() if row.operation in SPRAYS]
        if sprays or any(one.machine is not None for one in self.own):
            self.needs = read_needs(holding.pk, job__in=rows)
        if sprays:
            chosen = {need["material_id"] for job in sprays for need in self.needs.get(job, ())} - {None}
            self.mixes = _labels(holding.pk, chosen) if chosen else {}
        self.machines: dict[str, list[tuple[int, str]]] = defaultdict(list)
        if self.needs and (any(label.droplet for label in self.mixes.values()) or self.own):
            listed = Machine.objects.filter(holding_id=holding.pk).order_by("id")
            for pk, kind, droplet in listed.values_list("pk", "kind", "droplet"):
                self.machines[kind].append((pk, droplet))
        of_people = any(one.person is not None for one in self.own)
        self.going = confirmed_people(holding.pk, rows) if of_people else {}
        self.dry = _dry_before({job: row for job, row in rows.items() if "dry_days" in _plan(row)}, first)

    def of(self, row: JobRow, defaults: Mapping[str, Limit]) -> Joined:
        """`defaults` by key are the general limits and those of the job's step."""
        label = self._label(row, defaults) if row.operation in SPRAYS else []
        plan = plan_limits(_plan(row), self.dry.get(row.id, 0))
        own = self.own_of(row)
        if not (label or plan or own):
            return NOTHING
        return Joined(tuple(label), (*plan, *own), optional_of(plan))

    def own_of(self, row: JobRow) -> list[Limit]:
        """The limits that machine, plot, person or holding set for the job."""
        return [one.limit for one in self.own if self._binds(one, row)]

    def _label(self, row: JobRow, defaults: Mapping[str, Limit]) -> list[Limit]:
        listed = self.needs.get(row.id, ())
        mix = [self.mixes[need["material_id"]] for need in listed if need["material_id"] in self.mixes]
        if not mix:
            return []
        carriers = self._machines(row.id)
        return label_limits(mix, defaults, [droplet for _, droplet in carriers] or [""])

    def _machines(self, job: int) -> list[tuple[int, str]]:
        """(id, droplet) of the machines that the job takes: the chosen one, else all of the kind that it needs."""
        found = []
        for need in self.needs.get(job, ()):
            if need["kind"] == NeedKind.MACHINE:
                of_kind = self.machines.get(need["name"], ())
                found += [one for one in of_kind if need["machine_id"] in (None, one[0])]
        return found

    def _binds(self, one: Own, row: JobRow) -> bool:
        # A word that nobody knows counts as all work, or a typing error would loosen.
        if one.operation not in ("", row.operation) and one.operation in reference().operations:
            return False
        if one.machine is not None:
            return any(pk == one.machine for pk, _ in self._machines(row.id))
        if one.person is not None:
            return one.person in self.going.get(row.id, ())
        return one.plot in (None, row.plot)


def own_limits(holding: Holding) -> list[Own]:
    """The limits that the holding set itself, in the order of ids."""
    found = []
    rows = OwnLimit.objects.filter(holding_id=holding.pk).order_by("id")
    for pk, quantity, least, most, operation, plot, machine, person, *names in rows.values_list(
        "pk", "quantity", "least", "most", "operation", "plot_id", "machine_id", "person_id", "plot__name",
        "machine__name", "person__name",
    ):  # fmt: skip
        ranks = zip((Rank.PLOT, Rank.MACHINE, Rank.PERSON), names, strict=True)
        rank, whose = next(
            ((r, f"limit of {name}") for r, name in ranks if name), (Rank.HOLDING, "the holding's own rule")
        )
        found.append(Own(own_limit(pk, quantity, least, most, whose, rank), operation, plot, machine, person))
    return found


def _plan(row: JobRow) -> Mapping[str, Any]:
    plan: Mapping[str, Any] = row.details.get("burn_plan", {})
    return plan


def _labels(holding_id: int, materials: Collection[int]) -> dict[int, LabelHours]:
    """By material that is sprayed against something: what its label says of hours. Oils and dyes have none."""
    rows = Material.objects.filter(holding_id=holding_id, **few(pk__in=materials)).order_by("id")
    columns = ("pk", "kind", "active", "labels__pk", *(f"labels__{name}" for name in LABEL_FIELDS))
    found = {}
    for pk, kind, active, label, *figures in rows.values_list(*columns):
        if pk in materials and (active or kind == "herbicide" or label is not None):
            told = dict(zip(LABEL_FIELDS, figures, strict=True))
            found[pk] = LabelHours(**{**told, "droplet": told["droplet"] or ""})
    return found


def _dry_before(rows: Mapping[int, JobRow], first: int) -> dict[int, int]:
    """By burn the hours right before the minute `first` that are known to have been dry, from observed rain by day."""
    if not rows:
        return {}
    zones = {row.property: row.zone for row in rows.values()}
    back = min(local_day(zone, first) for zone in zones.values()) - timedelta(days=MOST_DRY_DAYS)
    weather = property_weather(set(zones), zones, back)
    return {
        job: _dry_hours(
            weather.get(row.property, PropertyWeather()), row.zone, first, _plan(row).get("dry_rain_in", RAIN_IN)
        )
        for job, row in rows.items()
    }


def _dry_hours(weather: PropertyWeather, zone: str, first: int, rain_in: float) -> int:
    """Days without a gap and without so much rain, back from the one in which `first` lies, as hours until `first`."""
    day = local_day(zone, first)
    # The day of `first` itself counts whole: its later hours are among those that follow.
    dry = first
    for back in range(MOST_DRY_DAYS):
        here = day - timedelta(days=back)
        fell = weather.rain.get(here)
        if (fell is None or fell > rain_in) and not (back == 0 and day_start(zone, day) == first):
            break
        dry = day_start(zone, here)
    return max(first - dry, 0) // 60
