"""What the kinds of import share: counting, refusing one row without the others, finding rows by name."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Generic, TypeVar

from django.db import transaction

from core.errors import Refused
from core.models import Holding, HoldingRow, Person
from core.services.rows import save_row
from plots.importing import Refusal, Row

Progress = Callable[[int, int], None]
EVERY = 250
"""Progress is told after so many rows."""

Found = TypeVar("Found", bound=HoldingRow)
AnyRow = TypeVar("AnyRow", bound=Row)


class Names(Generic[Found]):
    """Rows of a holding by name: the very name, or else the first row whose name differs in letter case alone."""

    def __init__(self, rows: Iterable[Found]) -> None:
        self._exact: dict[str, Found] = {}
        self._folded: dict[str, Found] = {}
        for row in rows:
            self.add(row)

    def add(self, row: Found) -> None:
        self._exact[str(row)] = row
        self._folded.setdefault(str(row).casefold(), row)

    def find(self, name: str) -> Found | None:
        return self._exact.get(name) or self._folded.get(name.casefold())


class Tally:
    """What was counted, refused and noted of rows on their way into the tables."""

    def __init__(self, total: int, progress: Progress | None = None) -> None:
        self.counts: Counter[str] = Counter()
        self.refused: list[Refusal] = []
        self.notes: list[str] = []
        self._total = total
        self._progress = progress
        self._seen = 0

    def tell(self, rows: int) -> None:
        """So many more rows were seen."""
        before, self._seen = self._seen, self._seen + rows
        if self._progress and (self._seen // EVERY > before // EVERY or self._seen == self._total):
            self._progress(self._seen, self._total)

    def refuse(self, where: str, refused: Refused) -> None:
        """Refuse the row that stands there, in the words of the rule it breaks."""
        reason, _, cure = refused.sentence.partition(". ")
        field = f"{refused.field}: " if refused.field else ""
        self.refused.append(
            Refusal(where, f"{field}{reason.rstrip('.')}", cure or "Correct it and import the file again.")
        )


class Intake(Tally):
    """One import under way: also who imports."""

    def __init__(self, holding: Holding, by: Person | None, total: int, progress: Progress | None) -> None:
        super().__init__(total, progress)
        self.holding = holding
        self.by = by
        self._fresh: list[tuple[Names[Any], HoldingRow]] = []

    def take(self, rows: Sequence[AnyRow], take_one: Callable[[AnyRow], str]) -> None:
        """Store each row by `take_one`, which answers "new", "changed", "same" or "left out"; a row it refuses leaves
        no trace."""
        for row in rows:
            self._fresh.clear()
            notes = len(self.notes)
            try:
                with transaction.atomic():
                    self.counts[take_one(row)] += 1
            except Refused as refused:
                del self.notes[notes:]
                self.refuse(row.where, refused)
            else:
                for names, made in self._fresh:
                    names.add(made)
            self.tell(1)

    def made(self, names: Names[Any], row: HoldingRow) -> None:
        """Let later rows find a new one by its name, if this one is not refused after all."""
        self._fresh.append((names, row))

    def put(self, row: HoldingRow, values: Mapping[str, Any], save: Callable[..., Any] = save_row) -> str:
        """Give the row these values and save it by a service, unless it has them: "new", "changed" or "same"."""
        adding = row._state.adding
        fields = [name for name, value in values.items() if adding or getattr(row, name) != value]
        if not adding and not fields:
            return "same"
        for name in fields:
            setattr(row, name, values[name])
        save(row=row, by=self.by, fields=fields)
        return "new" if adding else "changed"


def overall(first: str, *others: str) -> str:
    """What a row of a file did, from what happened to the rows behind it: the first is the one it is about."""
    return first if first != "same" or all(other == "same" for other in others) else "changed"


def given(row: Any, names: Iterable[str], *, adding: bool) -> dict[str, Any]:
    """The values of these names that a row of a file says something about; of a new row, all."""
    return {name: getattr(row, name) for name in names if adding or name in row.given}
