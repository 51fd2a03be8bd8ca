"""The calculators of a job's own sheet, filled in from its plot, its machine and its materials."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from jobs.models import Job, Need, NeedKind
from plots.agronomy.calculators import Absurd, Calculator
from plots.agronomy.calculators.telling import answered
from plots.agronomy.entries import figure
from plots.agronomy.measures import DIMENSION
from plots.models import Lot, Machine, Material, SoilTest
from plots.reference import shelf

COUNTED = ("seeds", "kernels")


@dataclass
class Filled:
    """A calculator of a sheet: what is filled in, from where, and its answer or what is missing."""

    calculator: Calculator
    given: dict[str, Any]
    origins: dict[str, str]
    answer: dict[str, Any] | None = None
    missing: dict[str, str] = field(default_factory=dict)


def sheet_of(job: Job) -> list[Filled]:
    """Every calculator of the job's field operation, as far as plot, machine and materials fill it in."""
    known = _known(job)
    return [_filled(one, known) for one in shelf().for_operation(job.operation)]


def _filled(calculator: Calculator, known: Mapping[str, tuple[Any, str]]) -> Filled:
    names = {entry.name for entry in calculator.entries}
    given: dict[str, Any] = {}
    origins: dict[str, str] = {}
    for name in names:
        value = known.get(f"{calculator.key}.{name}", known.get(name))
        if value is not None:
            given[name], origins[name] = value
    filled = Filled(calculator, given, dict(sorted(origins.items())))
    try:
        filled.answer = answered(calculator, calculator.answer(given))
    except Absurd as error:
        filled.missing = error.sentences
    return filled


def _known(job: Job) -> dict[str, tuple[Any, str]]:
    """By entry, or by calculator and entry: the value and where it is from."""
    reckoning = getattr(job, "reckoning", None)
    left = reckoning.acres_left if reckoning is not None else None
    acres = left or job.acres
    found: dict[str, tuple[Any, str]] = {}
    if acres:
        found["acres"] = acres, "what is left of the job" if left and left != job.acres else "the job"
    if job.plot.perimeter_ft:
        found["perimeter"] = job.plot.perimeter_ft, "the plot"
    needs = list(Need.objects.filter(job=job).select_related("machine", "material").order_by("id"))
    found |= _of_machine(job, needs)
    for need in needs:
        if need.kind == NeedKind.MATERIAL and need.material is not None:
            found |= _of_material(need.material, need.rate_per_acre, found)
    return found | _of_soil(job)


def _of_machine(job: Job, needs: list[Need]) -> dict[str, tuple[Any, str]]:
    """The machine that is chosen, else the first of a needed kind with a width."""
    wanted = [need for need in needs if need.kind == NeedKind.MACHINE]
    machine = next((need.machine for need in wanted if need.machine is not None), None)
    kinds = [need.name for need in wanted] or (["sprayer"] if job.operation in ("spray", "spot_spray") else [])
    if machine is None:
        listed = Machine.objects.filter(holding_id=job.holding_id, kind__in=kinds, width_ft__isnull=False)
        machine = listed.order_by("id").first()
    if machine is None:
        return {}
    share = None if machine.efficiency is None else machine.efficiency * 100
    told = {
        "width": machine.width_ft,
        "speed": machine.speed_mph,
        "efficiency": share,
        "row": machine.row_in,
        "spacing": machine.row_in,
        "sprayer-tanks.tank": machine.tank_gal,
        "sprayer-tanks.output": machine.gallons_per_acre,
        "flow": machine.nozzle_gpm,
        "rated_pressure": machine.nozzle_psi,
    }
    return {name: (value, machine.name) for name, value in told.items() if value is not None}


def _of_material(
    material: Material, rate: float | None, before: Mapping[str, tuple[Any, str]]
) -> dict[str, tuple[Any, str]]:
    found: dict[str, tuple[Any, str]] = {}
    if material.unit in COUNTED:
        if rate:
            found["planter.stand"] = rate, f"{material.name}: seeds an acre, all of which come up"
            found["planter.emergence"] = 100.0, "the rate is of seeds"
        if material.pack_size:
            found["planter.bag"] = material.pack_size, material.name
    elif rate and f"{material.unit}/ac" in DIMENSION:
        lines = list(before.get("products", ([], ""))[0])
        line = {"name": material.name[:60], "rate": f"{figure(rate)} {material.unit}/ac"}
        found["products"] = [*lines, line], "the materials of the job"
    if material.kind == "seed" and material.unit == "lb":
        lot = Lot.objects.filter(material=material, germination_pct__isnull=False).order_by("-id").first()
        tag = {"purity": lot and lot.purity_pct, "germination": lot and lot.germination_pct, "rate": rate}
        tag["dormant"] = lot and lot.dormant_pct
        tag["bag"] = material.pack_size
        found |= {f"seed.{name}": (value, material.name) for name, value in tag.items() if value is not None}
    return found


def _of_soil(job: Job) -> dict[str, tuple[Any, str]]:
    """The newest soil report, and the fertilisers in the shed by their analyses."""
    found: dict[str, tuple[Any, str]] = {}
    soil = SoilTest.objects.filter(plot_id=job.plot_id).order_by("-on", "-id").first()
    if soil is not None:
        told = {
            "fertiliser.nitrogen": soil.nitrogen_lb,
            "fertiliser.phosphate": soil.phosphate_lb,
            "fertiliser.potash": soil.potash_lb,
            "lime.required": soil.lime_lb,
            "lime.ph": soil.ph,
        }
        found |= {name: (value, f"soil report of {soil.on}") for name, value in told.items() if value is not None}
        if soil.lime_lb is not None:
            found["lime.measure"] = "enm", f"soil report of {soil.on}"
    bags = Material.objects.filter(holding_id=job.holding_id, kind="fertiliser", unit="lb").exclude(analysis="")
    lines = [{"name": m.name[:60], "analysis": m.analysis, "bag": m.pack_size} for m in bags.order_by("id")[:6]]
    if lines:
        found["fertiliser.materials"] = lines, "fertilisers of the holding"
    return found
