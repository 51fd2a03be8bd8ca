"""What a short answer to a message means: "DONE", "1 DONE 4 AC", "NO CHAIN BROKE". Pure.

Case and punctuation do not matter. A number or letter in front names the job by its place in the message. What is not
plainly one of these means nothing: a wrong guess would change what stands in the books.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

ACRES_PER_HECTARE = 10_000 / 4046.8564224
"""The international acre is 4046.8564224 m2 exactly (NIST Handbook 44, Appendix C)."""
LONGEST = 300
MOST_ACRES = 100_000.0
MOST_JOBS = 99

HELP_TEXT = (
    'Answer with "START", "DONE", "DONE 4 AC", "NO" and the reason, or "SKIP"; with several jobs, the number first: '
    '"2 DONE". "STOP" ends these messages.'
)
WHICH_UNIT = (
    'Say the unit: "DONE {figure} AC" for acres, "DONE {figure} HA" for hectares; the number of a job stands in front: '
    '"{figure} DONE". Nothing was changed.'
)
UNCLEAR = f"That was not understood and nothing was changed. {HELP_TEXT}"


class Word(StrEnum):
    START = "start"
    DONE = "done"
    NO = "no"
    SKIP = "skip"
    STOP = "stop"
    HELP = "help"


@dataclass(frozen=True, slots=True)
class Reply:
    """`place` is the number in front (1 is the first), `acres` what was done; `reason` a code of reports and `said` the
    words after NO."""

    word: Word
    place: int | None = None
    acres: float | None = None
    reason: str = ""
    said: str = ""


@dataclass(frozen=True, slots=True)
class Unclear:
    """Nothing is changed; the sentence goes back to whoever wrote."""

    sentence: str = UNCLEAR


ALIKE = {
    "start": Word.START, "started": Word.START, "done": Word.DONE, "no": Word.NO, "skip": Word.SKIP,
    "stop": Word.STOP, "unsubscribe": Word.STOP, "help": Word.HELP, "?": Word.HELP,
}  # fmt: skip

REASONS = {
    "machine": "machine tractor mower sprayer drill planter disc disk saw chain belt bearing hydraulic engine tire "
    "tyre broke broken breakdown battery pump hose shear pin pto",
    "wind": "wind windy gusts gusty",
    "rain": "rain raining rainy storm thunder lightning",
    "wet": "wet mud muddy soggy soft",
    "frost": "frost frozen ice icy snow",
    "heat": "heat hot",
    "weather": "weather",
    "material": "seed fuel diesel gas lime fertilizer chemical herbicide posts wire material",
    "access": "gate locked access road bridge flooded creek way",
    "people": "nobody alone people help sick crew",
}
"""Reason of a report: words that mean it. The first that fits counts, none is "other"."""
POLITE = frozenset({"problem", "prob", "worries", "thanks", "thank", "rush"})
"""After NO these mean no reason: "no problem" is not "could not"."""

MARKS = "!?,;:\"'()[]*_-–—…"
ACRE_WORDS = frozenset({"a", "ac", "acs", "acre", "acres"})
HECTARE_WORDS = frozenset({"ha", "hectare", "hectares"})
_FIGURE = re.compile(r"\d{1,6}(\.\d{1,4})?\Z|\.\d{1,4}\Z")
_GLUED = re.compile(r"(\d+(?:\.\d+)?|\.\d+)([a-z]+)\Z")


def understood(text: str) -> Reply | Unclear:
    """The meaning of the first line that says anything; what stands below it is an older message."""
    line = next((line.strip() for line in text.splitlines() if line.strip()), "")
    if len(line) > LONGEST:
        return Unclear()
    words = _words(line)
    place = None
    if len(words) > 1 and words[1] in ALIKE and words[0] not in ALIKE:
        place = _place(words[0])
        if place is None:
            return Unclear()
        words = words[1:]
    if not words or words[0] not in ALIKE:
        return Unclear()
    word, rest = ALIKE[words[0]], words[1:]
    if word is Word.NO:
        if POLITE & set(rest[:1]):
            return Unclear()
        return Reply(word, place, reason=_reason(rest), said=" ".join(rest))
    if word is Word.DONE and rest:
        return _acres(place, rest)
    if rest or (place is not None and word in (Word.STOP, Word.HELP)):
        return Unclear()
    return Reply(word, place)


def _words(line: str) -> list[str]:
    """Small letters without punctuation around them; a figure keeps its point, and loses a unit glued to it."""
    words: list[str] = []
    for raw in line.lower().split():
        bare = raw if raw == "?" or re.match(r"[-–—]+\d", raw) else raw.strip(MARKS).rstrip(".")
        bare = bare if re.match(r"\.\d", bare) else bare.lstrip(".")
        glued = _GLUED.match(bare)
        words += [glued.group(1), glued.group(2)] if glued else [bare] if bare else []
    return words


def _place(word: str) -> int | None:
    bare = word.lstrip("#")
    if len(bare) == 1 and "a" <= bare <= "z":
        return ord(bare) - ord("a") + 1
    if bare.isascii() and bare.isdigit() and len(bare) <= 2 and 1 <= int(bare) <= MOST_JOBS:
        return int(bare)
    return None


def _acres(place: int | None, rest: list[str]) -> Reply | Unclear:
    if len(rest) > 2 or not _FIGURE.match(rest[0]):
        return Unclear()
    if len(rest) == 1:  # "DONE 1" may be meant as the first job
        return Unclear(WHICH_UNIT.format(figure=rest[0]))
    unit = rest[1]
    if unit not in ACRE_WORDS | HECTARE_WORDS:
        return Unclear()
    acres = float(rest[0]) * (ACRES_PER_HECTARE if unit in HECTARE_WORDS else 1.0)
    if not 0 < acres <= MOST_ACRES:
        return Unclear("Acres are a number above 0. Nothing was changed.")
    return Reply(Word.DONE, place, acres=acres)


def _reason(words: list[str]) -> str:
    said = set(words)
    return next((code for code, meant in REASONS.items() if said & set(meant.split())), "other")
