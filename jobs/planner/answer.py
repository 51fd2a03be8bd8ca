"""What a plan is, and what stands in its place where there is none. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from jobs.planner.problem import Item, Level, Wish


@dataclass(frozen=True, slots=True)
class Effort:
    """`work` is the solver's deterministic time for the first level, two or three seconds of one processor each; every
    other level has a tenth of it. `wall_s` stops everything; a plan that it stopped may differ on another run."""

    work: float = 5.0
    seed: int = 1
    wall_s: float = 120.0


@dataclass(frozen=True, slots=True)
class Score:
    """What a level reached and the most that it could have; equal where that was proved."""

    level: Level
    value: int
    most: int

    @property
    def proved(self) -> bool:
        return self.value >= self.most


@dataclass(frozen=True, slots=True)
class Plan:
    """Items by start; a score a level. `repeatable`: no clock had a part in it, so the next run gives it again."""

    items: tuple[Item, ...]
    scores: tuple[Score, ...]
    effort: Effort
    repeatable: bool

    @property
    def proved(self) -> bool:
        return all(score.proved for score in self.scores)

    def score(self, level: Level) -> Score | None:
        return next((score for score in self.scores if score.level is level), None)

    @property
    def kept(self) -> int:
        """Thousandths of acre-seasons that the planned jobs keep."""
        score = self.score(Level.KEPT)
        return score.value if score else 0

    @property
    def gap(self) -> float:
        """By what share of the best the value kept may lie below it."""
        score = self.score(Level.KEPT)
        return 0.0 if score is None or score.most <= 0 else max(0.0, 1 - score.value / score.most)


@dataclass(frozen=True, slots=True)
class Refused:
    """Hard wishes that cannot hold together; take any one away and the rest can."""

    wishes: tuple[Wish, ...]


@dataclass(frozen=True, slots=True)
class Unknown:
    """Nothing was found and nothing proved within the effort."""

    effort: Effort


MOST_JOBS, MOST_SHIFTS = 300, 80
"""Above these a plan would not come in any useful time: twice the largest weekend that is measured."""


@dataclass(frozen=True, slots=True)
class TooLarge:
    """More jobs or shifts than a plan is sought for; `sentence` says what to do."""

    jobs: int
    shifts: int

    @property
    def sentence(self) -> str:
        return (
            f"{self.jobs} jobs and {self.shifts} stretches of free hours are more than a plan is made of "
            f"({MOST_JOBS} and {MOST_SHIFTS}). Ask for fewer days, or for some of the properties."
        )
