"""What `compare_trials` answers."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from ..trial import Trial
from .estimate import Estimate
from .words import difference_rows, drift_words, span_words

SAME, SMALL, DIFFERENT = "can be the same", "differ a little", "differ"
WORDS = (SAME, SMALL, DIFFERENT)


@dataclass(frozen=True)
class Difference:
    """How one trial differs from the first; intervals hold in 95 of 100 comparisons."""

    name: str
    word: str  # can be the same, differ a little, differ
    reason: str
    knee_ratio: Estimate  # knee over that of the first
    knee_difference: Estimate | None  # µm; None where depths are relative
    level_ratio: Estimate | None  # level over that of the first; None where levels do not compare
    no_levels: str  # why they do not compare; "" where they do


@dataclass(frozen=True)
class Drift:
    """How the knee goes with time, over all trials."""

    days: int  # from the first to the last trial
    per_month: Estimate  # change of the knee in 30 days, as a factor
    is_seen: bool  # whether the interval excludes no change


@dataclass(frozen=True)
class Comparison:
    """Trials beside one another; depths are those of the first trial's C r."""

    trials: tuple[Trial, ...]  # the first is the one that the others are compared with
    names: tuple[str, ...]  # what they are called
    knees: tuple[Estimate, ...]  # in the first trial's measure of depth: µm, or relative
    levels: tuple[Estimate | None, ...]  # each in its trial's energy unit
    factors: tuple[float, ...]  # what the depths of each trial were multiplied with to be in that measure
    dates: tuple[date | None, ...]  # the day of each trial
    differences: tuple[Difference, ...]  # of each other trial from the first
    drift: Drift | None  # None where dates are not known, or all the same
    remarks: tuple[str, ...]  # what else differs, and what was converted

    def __repr__(self) -> str:
        words = ", ".join(f"{each.name} {each.word}" for each in self.differences)
        return f"<Comparison with {self.names[0]}: {words}>"

    @property
    def depth_unit(self) -> str:
        return self.trials[0].depth_unit

    def report(self) -> str:
        """Knees, differences with their intervals, what they mean, and the drift, as plain text."""
        lines = ["[[Trials]]"]
        width = max(map(len, self.names))
        for name, knee, level, day in zip(self.names, self.knees, self.levels, self.dates):
            when = f", {day.isoformat()}" if day else ""
            lines.append(f"    {name:<{width}} = knee {span_words(knee, self.depth_unit)}{self._level(level)}{when}")
        for each in self.differences:
            lines.append(f"[[{each.name} against {self.names[0]}]]")
            lines += [f"    {name:<10} = {said}" for name, said in difference_rows(each)]
        if self.drift is not None:
            lines += ["[[Drift]]", f"    {drift_words(self.drift)}"]
        if self.remarks:
            lines += ["[[Remarks]]", *(f"    {remark}" for remark in self.remarks)]
        return "\n".join(lines)

    def _level(self, level: Estimate | None) -> str:
        return "" if level is None or self.trials[0].energy_unit != "J/mm³" else f", level {span_words(level, 'J/mm³')}"

    def as_dict(self) -> dict[str, Any]:
        """Everything but the trials themselves, ready for JSON."""

        def plain(each: Estimate | None) -> dict[str, float] | None:
            return None if each is None else each._asdict()

        return {
            "names": list(self.names),
            "sources": [trial.source for trial in self.trials],
            "depth_unit": self.depth_unit,
            "knees": [plain(knee) for knee in self.knees],
            "levels": [plain(level) for level in self.levels],
            "factors": list(self.factors),
            "dates": [day and day.isoformat() for day in self.dates],
            "differences": [
                {
                    **{name: value for name, value in asdict(each).items() if isinstance(value, str)},
                    **{name: plain(getattr(each, name)) for name in ("knee_ratio", "knee_difference", "level_ratio")},
                }
                for each in self.differences
            ],
            "drift": self.drift and {**asdict(self.drift), "per_month": plain(self.drift.per_month)},
            "remarks": list(self.remarks),
        }

    def plot(self, ax: Any = None) -> Any:
        """Draw all trials on axes of matplotlib, an extra: pip install 'gritfuncs[plots]'.

        ax : the axes; new ones where none are given.  They are given back.
        """
        from ..pictures.axes import draw
        from .picture import chart_of

        return draw(chart_of(self), ax)

    def _repr_html_(self) -> str:
        from .page import comparison_page

        return comparison_page(self)
