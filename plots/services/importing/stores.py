"""Machines, and materials with what is in store."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import Sum

from core.clock import now_at
from core.errors import Refused
from plots.importing import MachineRow, MaterialRow
from plots.models import Lot, Machine, Material, Property, StockMove
from plots.services.importing.intake import Intake, Names, given, overall
from plots.services.machines import save_machine

SMALLEST = 1e-6
"""A difference in stock below this is none."""


def take_machines(intake: Intake, rows: Sequence[Any]) -> None:
    machines = Names(Machine.objects.filter(holding=intake.holding).select_related("at_property").order_by("id"))
    properties = Names(Property.objects.filter(holding=intake.holding).order_by("id"))

    def machine_of(row: MachineRow) -> str:
        machine = machines.find(row.name)
        adding = machine is None
        if machine is None:
            machine = Machine(holding=intake.holding, name=row.name)
            intake.made(machines, machine)
        names = ("kind", "width_ft", "speed_mph", "efficiency", "state", "until", "with_operator", "note")
        values = given(row, names, adding=adding)
        if "state" in row.given:
            values["until"] = row.until  # the day belongs to the state; without one the old day goes
        if row.at_property:
            values["at_property"] = properties.find(row.at_property)
            if values["at_property"] is None:
                raise Refused(f"No property '{row.at_property}' is in this holding. Add it first, or correct the name.")
        return intake.put(machine, values, save_machine)

    intake.take(rows, machine_of)


def take_materials(intake: Intake, rows: Sequence[Any]) -> None:
    """Materials with their lots. `on_hand` is a count: the stock is brought to it by one movement.

    A line with a lot counts that lot. One without counts all of the material, or where other lines of the file name
    its lots, the rest."""
    materials = Names(Material.objects.filter(holding=intake.holding).order_by("id"))
    with_lots = {row.name.casefold() for row in rows if row.lot}

    def material_of(row: MaterialRow) -> str:
        material = materials.find(row.name)
        adding = material is None
        if material is None:
            material = Material(holding=intake.holding, name=row.name)
            intake.made(materials, material)
        elif material.unit.casefold() != row.unit.casefold():
            raise Refused(
                f"It is counted in {material.unit} here, not in {row.unit}. "
                f"Give amounts in {material.unit}, or give it another name."
            )
        names = ("kind", "active", "analysis", "pack_size", "lead_days", "restricted", "note")
        values = given(row, names, adding=adding) | ({"unit": row.unit} if adding else {})
        main = intake.put(material, values)
        if row.on_hand is None:
            return main
        return overall(main, _count(intake, row, material, rest=row.name.casefold() in with_lots))

    intake.take(rows, material_of)


def _count(intake: Intake, row: MaterialRow, material: Material, rest: bool) -> str:
    """Bring the stock to what was counted."""
    moves = StockMove.objects.filter(material=material)
    lot = None
    if row.lot:
        lot = Lot.objects.filter(material=material, number=row.lot).first()
        if lot is None:
            lot = Lot(holding=intake.holding)
            intake.put(lot, {"material": material, "number": row.lot})
        moves = moves.filter(lot=lot)
    elif rest:
        moves = moves.filter(lot=None)
    stock = moves.aggregate(total=Sum("quantity"))["total"] or 0.0
    difference = (row.on_hand or 0.0) - stock
    if abs(difference) < SMALLEST:
        return "same"
    if moves.exists():
        of_lot = f", lot {row.lot}" if row.lot else ""
        unit = material.unit
        intake.notes.append(
            f"{row.where}: stock of {material.name}{of_lot} set from {stock:g} to {row.on_hand:g} {unit}."
        )
    values = {"material": material, "lot": lot, "quantity": difference, "at": now_at(intake.holding)}
    return intake.put(StockMove(holding=intake.holding), {**values, "note": "counted, from an imported file"})
