"""From the result of a walk to the row that is stored, and back from its codes. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from jobs.facts import Facts
from jobs.folding import Folded
from jobs.graph.data import FAR
from jobs.holds import Clearing, Clears, Hold, HoldKind
from jobs.minutes import floor_minute, instant
from jobs.walk import Result


def row_of(
    result: Result,
    facts: Facts,
    folded: Folded,
    closed_by: str | None = None,
    windows: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """The stored form of one result: instants aware or None, holds, detail and windows as plain data.

    `closed_by` is the active ingredient that closes the branch the job lies in."""
    own, dates = facts.jobs[result.job], result.dates
    left = None if own.acres is None else round(max(0.0, own.acres - folded.acres_done), 4)
    detail: dict[str, Any] = {}
    if result.chain:
        detail["chain"] = list(result.chain)
    if result.finding is not None:
        detail["too_late"] = _finding(result)
    if not dates.on_reference:
        detail["aside"] = True
    if dates.conflict:
        detail["conflict"] = True
    if dates.out_of_order:
        detail["out_of_order"] = list(dates.out_of_order)
    if result.parts:
        detail["parts"] = [
            {"at": part.at, "acres": part.acres, "over": [list(pair) for pair in part.over]} for part in result.parts
        ]
    if result.set_aside:
        detail["set_aside"] = [code(hold) for hold in result.set_aside]
    if closed_by:
        detail["closed_by"] = closed_by
    return {
        "state": result.state.value,
        "earliest_start": instant(dates.es),
        "earliest_finish": instant(dates.ef),
        "latest_start": instant(dates.ls),
        "latest_finish": instant(dates.lf),
        "slack_min": dates.slack if abs(dates.slack) < FAR // 2 else None,
        "critical": dates.critical,
        "last_chance": instant(dates.last_chance),
        "look_by": instant(dates.look_by),
        "next_window": instant(None if windows is None else windows.get("next")),
        "acres_done": round(folded.acres_done, 4),
        "acres_left": left,
        "finished_at": instant(folded.finished.late if folded.finished else folded.skipped_at),
        "holds": [code(hold) for hold in result.holds],
        "detail": detail,
        "windows": None if windows is None else {name: told for name, told in windows.items() if name != "next"},
    }


def remember(rows: Mapping[int, dict[str, Any]], before: Mapping[int, Mapping[str, Any]]) -> None:
    """Keep with the windows of each row what the forecast before the newest said, from the rows that it replaces."""
    for job, row in rows.items():
        windows, earlier = row["windows"], before.get(job, {}).get("windows")
        if windows is None or earlier is None:
            continue
        issued = earlier.get("issued")
        if issued is None or issued == windows.get("issued"):
            past = earlier.get("before")
        else:
            past = forecast_of(before[job])
        if past is not None:
            windows["before"] = past


def forecast_of(row: Mapping[str, Any]) -> dict[str, Any] | None:
    """What the newest forecast says of a row's next window: issued, starts, ends; only issued where it has none."""
    windows = row["windows"]
    if windows is None or "issued" not in windows:
        return None
    ahead = row["next_window"]
    told = {"issued": windows["issued"]}
    for window in windows.get("found", ()):
        if ahead is not None and window["from"] == floor_minute(ahead):
            told |= {"starts": window["from"], "ends": window["to"]}
    return told


def _finding(result: Result) -> dict[str, Any]:
    """Without the minutes that are missing: they grow with the clock and are reckoned on reading (D17)."""
    found = result.finding
    assert found is not None
    return {
        "chain": list(found.chain),
        "broken": found.broken,
        "ways_out": [{"kind": way.kind, "id": way.id} for way in found.ways_out],
    }


def code(hold: Hold) -> dict[str, Any]:
    """A hold as plain data, with its keys in a fixed order and nothing empty."""
    clears = hold.clears
    told: dict[str, Any] = {"how": clears.how.value}
    if clears.at is not None:
        told["at"] = clears.at
    if clears.predicted:
        told["predicted"] = True
    if clears.job is not None:
        told["job"] = clears.job
    if clears.report:
        told["report"] = clears.report
    if clears.who:
        told["who"] = clears.who
    coded = {"kind": hold.kind.value, "rule": hold.rule, "clears": told}
    if hold.source:
        coded["source"] = hold.source
    if hold.inputs:
        coded["inputs"] = dict(hold.inputs)
    return coded


def decode(job: int, coded: Mapping[str, Any]) -> Hold:
    """The hold that `code` wrote."""
    told = coded["clears"]
    clears = Clears(
        Clearing(told["how"]),
        told.get("at"),
        told.get("predicted", False),
        told.get("job"),
        told.get("report", ""),
        told.get("who", ""),
    )
    return Hold(HoldKind(coded["kind"]), job, coded["rule"], clears, coded.get("source", ""), coded.get("inputs", {}))
