"""One week of hours as a picture: the line of the tightest limit's distance, its name along it, windows where it is
above zero, nights shaded by dots. SVG in one ink, with the same facts as text for readers of screens."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from html import escape
from itertools import groupby
from textwrap import wrap
from zoneinfo import ZoneInfo

from jobs.hours import Stretch
from jobs.minutes import day_start, instant, local_day

HOUR_PX = 5
LEFT, TOP, BOTTOM = 44, 34, 96
MIDDLE, STEP_PX, MOST_STEPS = 150, 30, 3
LEAST_NAMED_H, ROW_PX = 3, 14
"""A run of so many hours has its limit named; names that would meet stand in rows so far apart."""
LETTER_PX = 6
LEAST_DATED_MIN = 13 * 60


@dataclass(frozen=True, slots=True)
class Shown:
    """What the picture says: hours as (minute, name of the tightest limit, distance in steps, None where unknown)."""

    title: str
    zone: str
    hours: Sequence[tuple[int, str, float | None]]
    windows: Sequence[Stretch]
    nights: Sequence[Stretch]
    lines: Sequence[str]
    now: int | None = None


def week(shown: Shown, *, in_page: bool = False) -> str:
    """The picture as an SVG document. `shown.hours` has at least one hour; instants are minutes since 1970 UTC.

    `in_page`: its lines stand beside it as text, so that it carries them for readers of screens alone."""
    first, last = shown.hours[0][0], shown.hours[-1][0] + 60
    width = LEFT + (last - first) // 60 * HOUR_PX + 16
    lines = [] if in_page else [part for line in shown.lines for part in wrap(line, (width - LEFT) // LETTER_PX)]
    height = MIDDLE + MOST_STEPS * STEP_PX + (24 if in_page else BOTTOM) + 18 * len(lines)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" role="img" '
        'font-family="Georgia, serif" font-size="12" fill="currentColor" stroke="none">',
        f"<title>{escape(shown.title)}</title>",
        f"<desc>{escape(' '.join(shown.lines))}</desc>",
        _PATTERNS,
    ]
    if not in_page:
        parts.append(f'<text x="{LEFT}" y="14" font-size="15" font-weight="700">{escape(shown.title)}</text>')
    parts += [_band(first, last, night, "night") for night in shown.nights]
    parts += _days(shown.zone, first, last)
    parts += _scale(first, last)
    parts += [_band(first, last, window, "window") for window in shown.windows]
    parts += _unknown(first, shown.hours)
    parts += _line(first, shown.hours)
    parts += _names(first, shown.hours)
    if shown.now is not None and first <= shown.now < last:
        parts.append(_now(_x(first, shown.now)))
    base = MIDDLE + MOST_STEPS * STEP_PX + 46
    parts += [f'<text x="{LEFT}" y="{base + 18 * at}">{escape(line)}</text>' for at, line in enumerate(lines)]
    return "\n".join([*parts, "</svg>", ""])


_PATTERNS = (
    '<defs><pattern id="night" width="5" height="5" patternUnits="userSpaceOnUse">'
    '<circle cx="1" cy="1" r="0.6"/></pattern>'
    '<pattern id="window" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<path d="M0 0V6" stroke="currentColor" stroke-width="1.6"/></pattern></defs>'
)


def _x(first: int, minute: int) -> float:
    return LEFT + (minute - first) / 60 * HOUR_PX


def _y(steps: float) -> float:
    return MIDDLE - max(-MOST_STEPS, min(MOST_STEPS, steps)) * STEP_PX


def _band(first: int, last: int, stretch: Stretch, kind: str) -> str:
    start, end = max(stretch[0], first), min(stretch[1], last)
    if start >= end:
        return ""
    top, bottom = (TOP, MIDDLE + MOST_STEPS * STEP_PX) if kind == "night" else (MIDDLE - 12, MIDDLE)
    return (
        f'<rect x="{_x(first, start):.1f}" y="{top}" width="{(end - start) / 60 * HOUR_PX:.1f}" '
        f'height="{bottom - top}" fill="url(#{kind})"/>'
    )


def _days(zone: str, first: int, last: int) -> list[str]:
    found, day = [], local_day(zone, first)
    while (midnight := day_start(zone, day)) < last:
        if midnight >= first:
            x = _x(first, midnight)
            found.append(f'<path d="M{x:.1f} {TOP}V{MIDDLE + MOST_STEPS * STEP_PX + 6}" stroke="currentColor"/>')
        at, next_day = max(midnight, first), day_start(zone, day + timedelta(days=1))
        if min(next_day, last) - at >= LEAST_DATED_MIN:
            label = f"{day:%a} {day.day} {day:%b}"
            found.append(f'<text x="{_x(first, at) + 3:.1f}" y="{MIDDLE + MOST_STEPS * STEP_PX + 18}">{label}</text>')
        day += timedelta(days=1)
    return found


def _now(x: float) -> str:
    return (
        f'<path d="M{x:.1f} {TOP}V{MIDDLE + MOST_STEPS * STEP_PX}" stroke="currentColor" stroke-width="1.5" '
        f'stroke-dasharray="6 3"/><text x="{x:.1f}" y="{TOP - 3}" text-anchor="middle" font-weight="700">now</text>'
    )


def _scale(first: int, last: int) -> list[str]:
    right = _x(first, last)
    return [
        f'<path d="M{LEFT} {MIDDLE}H{right:.1f}" stroke="currentColor" stroke-width="1.5"/>',
        f'<text x="2" y="{MIDDLE + 4}">limit</text>',
        f'<text x="2" y="{TOP + 12}">clear</text>',
        f'<text x="2" y="{MIDDLE + MOST_STEPS * STEP_PX}">held</text>',
    ]


def _unknown(first: int, hours: Sequence[tuple[int, str, float | None]]) -> list[str]:
    """Hours of which something is not known: a dotted line below the limit."""
    found = []
    for missing, run in groupby(hours, key=lambda hour: hour[2] is None):
        several = list(run)
        if missing:
            start, end = _x(first, several[0][0]), _x(first, several[-1][0] + 60)
            found.append(
                f'<path d="M{start:.1f} {MIDDLE + 8}H{end:.1f}" stroke="currentColor" stroke-dasharray="1 4"/>'
                f'<text x="{start + 2:.1f}" y="{MIDDLE + 22}" font-style="italic">not known</text>'
            )
    return found


def _line(first: int, hours: Sequence[tuple[int, str, float | None]]) -> list[str]:
    found = []
    for missing, run in groupby(hours, key=lambda hour: hour[2] is None):
        points = [
            f"{_x(first, minute + half):.1f},{_y(steps):.1f}"
            for minute, _, steps in run
            if steps is not None
            for half in (0, 60)
        ]
        if not missing:
            found.append(f'<polyline points="{" ".join(points)}" fill="none" stroke="currentColor" stroke-width="2"/>')
    return found


def _names(first: int, hours: Sequence[tuple[int, str, float | None]]) -> list[str]:
    """The name of the tightest limit over each run of hours that is long enough to point at, none over another."""
    found: list[str] = []
    placed: list[tuple[float, float, float]] = []
    for name, run in groupby((hour for hour in hours if hour[2] is not None), key=lambda hour: hour[1]):
        several = list(run)
        if len(several) < LEAST_NAMED_H:
            continue
        start, length = _x(first, several[0][0]) + 2, LETTER_PX * len(name)
        start = min(start, _x(first, hours[-1][0] + 60) - length)
        peak = min(_y(steps) for _, _, steps in several if steps is not None)
        y = peak - 6
        while y > TOP + 12 and any(abs(y - at) < ROW_PX and left < start + length and start < right
                                   for left, right, at in placed):  # fmt: skip
            y -= ROW_PX
        y = max(y, TOP + 12)
        placed.append((start - LETTER_PX, start + length + LETTER_PX, y))
        found.append(f'<text x="{start:.1f}" y="{y:.1f}">{escape(name)}</text>')
        if y < peak - ROW_PX:
            x = _x(first, several[0][0]) + 2
            found.append(f'<path d="M{x:.1f} {y + 3:.1f}V{peak - 2:.1f}" stroke="currentColor" stroke-width="0.5"/>')
    return found


def clock(minute: int, zone: str) -> str:
    """ "Sat 9 May 06:40" of a minute in a zone."""
    at = instant(minute)
    if at is None:
        return "not known"
    here: datetime = at.astimezone(ZoneInfo(zone))
    return f"{here:%a} {here.day} {here:%b %H:%M}"
