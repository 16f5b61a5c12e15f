"""Two sides timed in turn within one run, so that whatever slows the machine slows both."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median
from time import perf_counter
from typing import Any, Callable


def wall_clock(side: Callable[[], Any]) -> float:
    start = perf_counter()
    side()
    return perf_counter() - start


@dataclass(frozen=True)
class Case:
    """One line of the table: what both sides do, and what the ratio of their times should be."""

    what: str
    against_what: str
    ours: Callable[[], Any]
    against: Callable[[], Any]
    same: Callable[[Any, Any], bool] | None  # whether both sides computed the same; None where they answer by different methods
    goal: float | None = None  # our time over theirs, at most
    pairs: int = 21
    seconds: Callable[[Callable[[], Any]], float] = wall_clock
    note: Callable[[], list[str]] = list  # sentences to add when all pairs are through


@dataclass(frozen=True)
class Result:
    case: Case
    ours: float  # s, median
    against: float  # s, median
    ratio: float  # median of the ratios of the pairs
    lowest: float
    highest: float
    notes: list[str]

    @property
    def missed(self) -> bool:
        return self.case.goal is not None and self.ratio > self.case.goal


def measured(case: Case) -> Result:
    """The case after a warm-up of each side, the sides taking turns in going first."""
    case.seconds(case.ours), case.seconds(case.against)
    ours, against = [], []
    for number in range(case.pairs):
        for side, times in ((case.ours, ours), (case.against, against))[:: 1 if number % 2 else -1]:
            times.append(case.seconds(side))
    ratios = [ours_time / their_time for ours_time, their_time in zip(ours, against)]
    return Result(case, median(ours), median(against), median(ratios), min(ratios), max(ratios), case.note())
