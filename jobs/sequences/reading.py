"""Reading a sequence from its TOML text (or the same document as plain data), with every fault named.

The form, in short: the head gives key, version, name, purpose, crop or habitat, region and the `season` (from, to).
`[[step]]` rows are field operations, which may come round again (`repeat` with every_days and an end: until,
at_most or until_done), `[[link]]` rows their prerequisites, `[[branch]]` rows named sets of steps (with `option` for a
replant), `[[across]]` rows prerequisites on jobs of other seasons. A wait is written with its unit: "14
days", "36 hours", "100 degree_days", "1 rain_in", "1 rain_in + 14 days". A day is written as in
jobs.sequences.calendar. `source` names a row of the sources; `worth` is that of the source unless a row says otherwise.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from typing import Any

from jobs.graph.data import Relation, Skip
from jobs.sequences.calendar import SeasonDay, read_day
from jobs.sequences.checking import faults_of
from jobs.sequences.reference import WORTHS, Reference, duration_rule
from jobs.sequences.spec import (
    AcrossSpec,
    Amount,
    BranchSpec,
    Closing,
    DeadlineRule,
    DurationRule,
    LimitSpec,
    LinkSpec,
    NeedSpec,
    OptionSpec,
    RepeatRule,
    Saying,
    SequenceError,
    SequenceSpec,
    StepSpec,
    Unit,
)

_NUMBER = r"(-?\d+(?:\.\d+)?)"
_WAIT = re.compile(rf"{_NUMBER} (\w+)(?: \+ {_NUMBER} days)?")
_HEAD = {
    "key", "version", "name", "purpose", "crop", "habitat", "region", "note", "season", "step", "link", "branch",
    "across",
}  # fmt: skip
_STEP = {
    "key", "operation", "title", "instruction", "from", "to", "best", "source", "worth", "note", "branch", "duration",
    "deadline", "repeat", "hazards", "skip", "outcomes", "observes", "needs", "limits", "closed_by", "tags",
    "lead_days", "least_crew", "also",
}  # fmt: skip
_LINK = {
    "before",
    "after",
    "relation",
    "min",
    "max",
    "degree_days",
    "confirm",
    "source",
    "worth",
    "max_source",
    "note",
    "also",
}
_BRANCH = {"key", "name", "group", "order", "parent", "opened_by", "outcomes", "expected", "option"}
_ACROSS = {
    "sequences", "operation", "tag", "to", "scope", "actives", "look_back_days", "relation", "min", "max", "confirm",
    "source", "worth", "note", "also",
}  # fmt: skip


def read(text: str, reference: Reference) -> SequenceSpec:
    """The sequence that a TOML text holds; SequenceError lists every fault of it in plain words."""
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SequenceError("The text", [f"It is not well formed: {error}."]) from None
    return from_document(document, reference)


def from_document(document: Mapping[str, Any], reference: Reference) -> SequenceSpec:
    """The sequence of a document already parsed (the shape that is stored with it); SequenceError as in `read`."""
    return _Reader(document, reference).sequence()


class _Reader:
    """One reading: collects faults, so that one look tells all of them."""

    def __init__(self, document: Mapping[str, Any], reference: Reference) -> None:
        self.document = document
        self.reference = reference
        self.faults: list[str] = []
        self.where = "The head"

    def sequence(self) -> SequenceSpec:
        head = self.document
        self.known_words(head, _HEAD)
        season = head.get("season", {})
        first, last = self.day(season, "from"), self.day(season, "to")
        steps = self.rows("step", _STEP, lambda row: self.step(row, first, last))
        links = self.rows("link", _LINK, self.links)
        branches = self.rows("branch", _BRANCH, self.branch)
        across = self.rows("across", _ACROSS, self.across)
        self.where = "The head"
        spec = SequenceSpec(
            key=self.word(head, "key"),
            version=head.get("version", 1),
            name=self.word(head, "name"),
            purpose=self.word(head, "purpose"),
            region=self.word(head, "region"),
            first=first,
            last=last,
            steps=tuple(steps),
            links=tuple(link for several in links for link in several),
            crop=head.get("crop", ""),
            habitat=head.get("habitat", ""),
            note=head.get("note", ""),
            branches=tuple(branches),
            across=tuple(across),
        )
        faults = self.faults + faults_of(spec, self.reference)
        if faults:
            raise SequenceError(spec.name or spec.key or "The sequence", faults)
        return spec

    def fault(self, sentence: str) -> None:
        self.faults.append(f"{self.where}: {sentence}")

    def rows(self, table: str, words: set[str], build: Callable[[Mapping[str, Any]], Any]) -> list[Any]:
        built = []
        for number, row in enumerate(self.document.get(table, []), start=1):
            name = row.get("key") or " to ".join(str(row[end]) for end in ("before", "after", "to") if end in row)
            self.where = f"{table} {name or number}"
            self.known_words(row, words)
            built.append(build(row))
        return built

    def known_words(self, row: Mapping[str, Any], words: set[str]) -> None:
        for word in sorted(row.keys() - words):
            self.fault(f"'{word}' is no word of this table.")

    def word(self, row: Mapping[str, Any], name: str) -> str:
        value = row.get(name)
        if not isinstance(value, str) or not value:
            self.fault(f"'{name}' is missing.")
            return ""
        return value

    def day(self, row: Mapping[str, Any], name: str, default: SeasonDay | None = None) -> SeasonDay:
        if name not in row and default is not None:
            return default
        try:
            return read_day(row.get(name, ""))
        except ValueError as error:
            self.fault(f"{name}: {error}")
            return default or SeasonDay(0, 1, 1)

    def amount(self, row: Mapping[str, Any], name: str) -> Amount | None:
        if name not in row:
            return None
        text = str(row[name])
        match = _WAIT.fullmatch(text)
        if match is None:
            self.fault(f"the {name} wait '{text}' is unreadable; write it like 14 days or 1 rain_in + 14 days.")
            return None
        if match[2] not in list(Unit):
            self.fault(f"the {name} wait '{text}' has the unknown unit '{match[2]}'; use {', '.join(Unit)}.")
            return None
        unit = Unit(match[2])
        if match[3] and unit is not Unit.RAIN_IN:
            self.fault(f"the {name} wait '{text}' adds days to something else than rain.")
        return Amount(float(match[1]), unit, float(match[3] or 0))

    def sourced(self, row: Mapping[str, Any], what: str) -> tuple[str, str]:
        """Source and worth of a row, with a fault if there is none."""
        source = row.get("source", "")
        known = self.reference.sources.get(source)
        if not source:
            self.fault(f"{what} has no source. Name one, or common-practice, or from-memory.")
        elif known is None:
            self.fault(f"{what} names the unknown source '{source}'.")
        worth = row.get("worth") or (known.worth if known else "")
        if worth and worth not in WORTHS:
            self.fault(f"{what} has the unknown worth '{worth}'; use {', '.join(WORTHS)}.")
        return source, worth

    def also(self, row: Mapping[str, Any]) -> tuple[Saying, ...]:
        """What other sources say beside the row's own."""
        others = row.get("also", [])
        return tuple(Saying(self.word(other, "says"), *self.sourced(other, "what else is said")) for other in others)

    def step(self, row: Mapping[str, Any], first: SeasonDay, last: SeasonDay) -> StepSpec:
        source, worth = self.sourced(row, "its dates")
        operation = self.reference.operations.get(self.word(row, "operation"))
        if operation is None:
            self.fault(f"the field operation '{row.get('operation', '')}' is unknown.")
        duration = operation.duration if operation else DurationRule()
        try:
            duration = duration_rule(row["duration"]) if "duration" in row else duration
        except (ValueError, TypeError, AttributeError) as error:
            self.fault(str(error))
        if "duration" in row and row["duration"].get("worth") not in WORTHS:
            self.fault(f"its duration has no worth; use {', '.join(WORTHS)}.")
        best = row.get("best")
        if best is not None:
            best = (self.day({"best": best[0]}, "best"), self.day({"best": best[1]}, "best"))
        if row.get("skip", Skip.PASSED_OVER) not in list(Skip):
            self.fault(f"the skip effect '{row['skip']}' is unknown; use {', '.join(Skip)}.")
        return StepSpec(
            key=self.word(row, "key"),
            operation=row.get("operation", ""),
            title=self.word(row, "title"),
            instruction=self.word(row, "instruction"),
            first=self.day(row, "from", first),
            last=self.day(row, "to", last),
            source=source,
            worth=worth,
            note=row.get("note", ""),
            best=best,
            branch=row.get("branch"),
            duration=duration,
            deadline=self.deadline(row["deadline"]) if "deadline" in row else None,
            repeat=self.repeat(row["repeat"]) if "repeat" in row else None,
            hazards=tuple(row.get("hazards", operation.hazards if operation else ())),
            skip=Skip(row["skip"]) if row.get("skip") in list(Skip) else Skip.PASSED_OVER,
            outcomes=tuple(row.get("outcomes", ())),
            observes=tuple(sorted(row.get("observes", {}).items())),
            needs=self.needs(row, operation),
            limits=tuple(self.limit(limit) for limit in row.get("limits", [])),
            closed_by=self.closings(row),
            tags=tuple(row.get("tags", ())),
            lead_days=row.get("lead_days", 0),
            least_crew=row.get("least_crew", operation.least_crew if operation else 1),
            also=self.also(row),
        )

    def deadline(self, row: Mapping[str, Any]) -> DeadlineRule:
        source, worth = self.sourced(row, "its last day")
        if "day" not in row and "freeze_f" not in row:
            self.fault("the last day needs 'day', or 'freeze_f' with 'less_days'.")
        day = self.day(row, "day") if "day" in row else None
        return DeadlineRule(day, source, worth, row.get("freeze_f"), row.get("less_days", 0))

    def repeat(self, row: Mapping[str, Any]) -> RepeatRule:
        source, worth = self.sourced(row, "its repeat")
        every = row.get("every_days", 0)
        if not isinstance(every, int) or every < 1:
            self.fault("it repeats after a whole number of days above 0.")
        if not {"until", "at_most", "until_done"} & row.keys():
            self.fault("its repeat has no end: give 'until' a day, 'at_most' a count or 'until_done' steps.")
        until = self.day(row, "until") if "until" in row else None
        done = tuple(row.get("until_done", ()))
        return RepeatRule(every, source, worth, row.get("latest_days"), until, row.get("at_most"), done)

    def needs(self, row: Mapping[str, Any], operation: Any) -> tuple[NeedSpec, ...]:
        """The step's own needs; where it names none of a kind, what the operation usually takes of machines, skills."""
        given = []
        for need in row.get("needs", []):
            kind = next((k for k in ("machine", "material", "skill") if k in need), None)
            if kind is None:
                self.fault("a need names a machine, a material or a skill.")
                continue
            source, worth = self.sourced(need, "its rate") if "rate_per_acre" in need else ("", "")
            name = need.get("role", need[kind])
            material = need[kind] if kind == "material" else ""
            given.append(
                NeedSpec(kind, name, material, need.get("rate_per_acre"), need.get("rate_unit", ""), source, worth)
            )
        if operation is not None:
            if not any(need.kind == "machine" for need in given):
                given += [NeedSpec("machine", name) for name in operation.machines]
            if not any(need.kind == "skill" for need in given):
                given += [NeedSpec("skill", name) for name in operation.skills]
        return tuple(given)

    def links(self, row: Mapping[str, Any]) -> list[LinkSpec]:
        """One link for each predecessor that `before` names."""
        source, worth = self.sourced(row, "the wait")
        max_source, max_worth = source, worth
        if "max_source" in row:
            max_source, max_worth = self.sourced({"source": row["max_source"]}, "the longest wait")
        befores = row.get("before", "")
        return [
            LinkSpec(
                before=before,
                after=self.word(row, "after"),
                source=source,
                worth=worth,
                relation=self.relation(row),
                minimum=self.amount(row, "min"),
                maximum=self.amount(row, "max"),
                degree_days=row.get("degree_days", ""),
                confirm=row.get("confirm", ""),
                max_source=max_source if "max" in row else "",
                max_worth=max_worth if "max" in row else "",
                note=row.get("note", ""),
                also=self.also(row),
            )
            for before in ([befores] if isinstance(befores, str) else befores)
        ]

    def relation(self, row: Mapping[str, Any]) -> Relation:
        relation = row.get("relation", "FS")
        if relation not in list(Relation):
            self.fault(f"the relation '{relation}' is unknown; use {', '.join(Relation)}.")
            return Relation.FINISH_START
        return Relation(relation)

    def branch(self, row: Mapping[str, Any]) -> BranchSpec:
        option = row.get("option")
        return BranchSpec(
            key=self.word(row, "key"),
            name=self.word(row, "name"),
            group=row.get("group"),
            order=row.get("order", 0),
            parent=row.get("parent"),
            opened_by=row.get("opened_by"),
            outcomes=tuple(row.get("outcomes", ())),
            expected=row.get("expected", False),
            option=self.option(option) if option is not None else None,
        )

    def limit(self, row: Mapping[str, Any]) -> LimitSpec:
        source, worth = self.sourced(row, f"the limit of {row.get('what', '')}")
        low, high = row.get("at_least"), row.get("at_most")
        if low is None and high is None:
            self.fault(f"the limit of {row.get('what', '')} is empty: give 'at_least' or 'at_most'.")
        return LimitSpec(self.word(row, "what"), source, worth, low, high, row.get("note", ""))

    def closings(self, row: Mapping[str, Any]) -> tuple[Closing, ...]:
        closings = []
        for closing in row.get("closed_by", []):
            source, worth = self.sourced(closing, f"what {closing.get('active', 'a spray')} closes")
            active = self.word(closing, "active")
            closings.append(
                Closing(
                    active,
                    source,
                    worth,
                    days=closing.get("days"),
                    after_rain_in=closing.get("after_rain_in"),
                    written_reason=closing.get("written_reason", False),
                    note=closing.get("note", ""),
                )
            )
        return tuple(closings)

    def option(self, row: Mapping[str, Any]) -> OptionSpec:
        if "last" not in row:
            self.fault("an option needs its last sensible day.")
        return OptionSpec(self.deadline(row.get("last", {"day": "12-31"})), self.closings(row), row.get("note", ""))

    def across(self, row: Mapping[str, Any]) -> AcrossSpec:
        source, worth = self.sourced(row, "the wait")
        return AcrossSpec(
            operation=self.word(row, "operation"),
            to=self.word(row, "to"),
            source=source,
            worth=worth,
            sequences=tuple(row.get("sequences", ())),
            tag=row.get("tag", ""),
            scope=row.get("scope", "plot"),
            actives=tuple(row.get("actives", ())),
            look_back_days=row.get("look_back_days", 400),
            relation=self.relation(row),
            minimum=self.amount(row, "min"),
            maximum=self.amount(row, "max"),
            confirm=row.get("confirm", ""),
            note=row.get("note", ""),
            also=self.also(row),
        )
