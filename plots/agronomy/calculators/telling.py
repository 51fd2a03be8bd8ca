"""What a calculator asks and answers as plain data: the same for the API, the pages and a job's sheet. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from plots.agronomy.calculators.spec import Calculator, Worked
from plots.agronomy.entries import Choice, Entry, Number, Numbers, Rows, Words, figure
from plots.agronomy.measures import dimension_of, siblings

NOT_PERMISSION = "Nothing here is permission: label, local code and licensed practice decide."


def described(calculator: Calculator) -> dict[str, Any]:
    """What a calculator is for, what it asks, where it comes from and what to heed."""
    return {
        "key": calculator.key,
        "name": calculator.name,
        "purpose": calculator.purpose,
        "entries": [entry_told(entry) for entry in calculator.entries],
        "operations": sorted(calculator.operations),
        "sources": [{"key": one.key, "title": one.title, "worth": one.worth} for one in calculator.sources],
        "cautions": cautions_told(calculator),
        "note": calculator.note,
    }


def cautions_told(calculator: Calculator) -> list[dict[str, Any]]:
    return [{"hazard": c.hazard, "lines": list(c.lines), "decides": c.decides} for c in calculator.cautions]


def entry_told(entry: Entry) -> dict[str, Any]:
    """One entry: its name, kind, unit with the units that are turned into it, range, default and words."""
    told: dict[str, Any] = {
        "name": entry.name,
        "label": entry.label,
        "kind": entry.kind,
        "unit": "",
        "units": [],
        "low": None,
        "high": None,
        "sensible": "",
        "default": None,
        "optional": False,
        "whole": False,
        "options": [],
        "columns": [],
        "help": entry.help,
    }
    match entry:
        case Number():
            told |= {"optional": entry.optional or entry.default is not None} | _span(entry)
            told["default"] = None if entry.default is None else figure(entry.default)
        case Numbers():
            told |= {"optional": entry.optional} | _span(entry.each)
        case Choice():
            options = [{"key": key, "sentence": sentence} for key, sentence in entry.options]
            told |= {"options": options, "default": entry.default, "optional": entry.default is not None}
        case Words():
            told |= {"optional": entry.optional, "sensible": entry.told_as}
        case Rows():
            told |= {"columns": [entry_told(column) for column in entry.columns], "optional": entry.least == 0}
    return told


def _span(number: Number) -> dict[str, Any]:
    owns = [unit for unit, _, _ in number.any_of] or [number.unit]
    units = [unit for own in owns for unit in (siblings(own) if dimension_of(own) else [])]
    return {
        "unit": number.unit,
        "units": units if len(units) > 1 else [],
        "low": number.low,
        "high": number.high,
        "sensible": number.span(),
        "whole": number.whole,
    }


def answered(calculator: Calculator, worked: Worked) -> dict[str, Any]:
    """An answer with where it comes from and what to heed."""
    figures = [
        {"key": one.key, "label": one.label, "value": one.value, "unit": one.unit, "text": one.text}
        for one in worked.figures
    ]
    return {
        "calculator": calculator.key,
        "name": calculator.name,
        "figures": figures,
        "notes": [*worked.notes, *([calculator.note] if calculator.note else [])],
        "sources": [{"key": one.key, "title": one.title, "worth": one.worth} for one in calculator.sources],
        "cautions": cautions_told(calculator),
        "decides": NOT_PERMISSION,
    }


def from_form(calculator: Calculator, form: Mapping[str, str]) -> dict[str, Any]:
    """The entries of a form, where a line's entry is called `products.0.rate`; names of no entry are left out."""
    told: dict[str, Any] = {}
    for entry in calculator.entries:
        if not isinstance(entry, Rows):
            if entry.name in form:
                told[entry.name] = form[entry.name]
            continue
        lines: dict[int, dict[str, str]] = {}
        names = {column.name for column in entry.columns}
        for name, value in form.items():
            head, _, rest = name.partition(".")
            number, _, column = rest.partition(".")
            if head == entry.name and column in names and number.isdecimal() and len(number) <= 2:
                lines.setdefault(int(number), {})[column] = value
        if lines:
            told[entry.name] = [lines.get(n, {}) for n in range(max(lines) + 1)]
    return told
