"""What `find_knee` answers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from typing import Any, NamedTuple

from .curved import rise
from .sentence import name_of, said

FOUND = "found"
STILL_FALLING = "still falling"
ALREADY_LEVEL = "already level"
NOT_RESOLVED = "not resolved"
TOO_FEW = "too few readings"
VERDICTS = (FOUND, STILL_FALLING, ALREADY_LEVEL, NOT_RESOLVED, TOO_FEW)


class FoundKnee(NamedTuple):
    """What a knee that was found always has, as `Knee` describes it."""

    knee: float  # µm
    low: float  # µm
    high: float  # µm
    level: float
    slope: float
    scatter_low: float  # µm
    scatter_high: float  # µm
    definition_allowance: float  # µm


@dataclass(frozen=True)
class Knee:
    """The knee of one trial and how far to trust it.

    Depths are in µm; energies are in the unit of the readings.  Only the verdict `found` carries a knee;
    `low` alone is also given for `still falling`, where any knee lies above it.
    """

    verdict: str
    reasons: tuple[str, ...]  # plain sentences: what was seen
    advice: str  # what to do next; empty when there is nothing to do
    n_readings: int
    n_depths: int
    knee: float | None = None  # µm
    low: float | None = None  # µm, stated interval
    high: float | None = None  # µm, stated interval; None where only a lower bound is known
    level: float | None = None  # energy at the knee; for `already level` the mean
    slope: float | None = None  # fall of energy per µm below the knee; of a curved fall just below it
    scatter_low: float | None = None  # µm, lowest corner that the scatter leaves possible
    scatter_high: float | None = None  # µm, highest one; None where no upper end is known
    definition_allowance: float | None = None  # µm, least half-width of the stated interval
    noise: float | None = None  # relative scatter used for the interval: about the fit, at least the floor
    noise_floor: float | None = None  # relative scatter assumed at least: repeats, default or as given
    sse: float | None = None  # sum of squared residuals of the fit
    suspect: int | None = None  # position of a reading out of line, counted from 0
    drift: float | None = None  # most likely drift, share of the level a reading, that was taken off; None where not judged
    drift_deviation: float | None = None  # its standard deviation
    curved: bool = False  # whether the fall is a curve, with 1/h², because a straight one does not fit
    offset: float | None = None  # load that does not go with removal, fitted and taken off: energy times removal rate
    offset_error: float | None = None  # its standard error

    def __repr__(self) -> str:
        where = ""  # without a unit: a trial without a setup has relative depths
        if self.knee is not None:
            where = f" at grit depth {self.knee:.4g}, interval {self.low:.4g} to {self.high:.4g}"
        elif self.low is not None:
            where = f", above grit depth {self.low:.4g} if there is one"
        counts = (
            f"{count} {word}{'' if count == 1 else 's'}"
            for count, word in ((self.n_readings, "reading"), (self.n_depths, "depth"))
        )
        return f"<Knee {self.verdict}{where}: {' at '.join(counts)}>"

    @property
    def noise_freedom(self) -> int | None:
        """Degrees of freedom behind `noise`: readings less the three of the fit; None where there is no noise."""
        return None if self.noise is None else self.n_readings - 3

    def energy(self, depth: float) -> float | None:
        """Energy of the fitted curve at a depth [µm], in the unit of the readings; None where there is no knee.

        u = level + slope (knee - h) below the knee, or where the fall is curved u = level + slope knee/2 ((knee/h)² - 1);
        the level beyond it.
        """
        found = found_in(self)
        if found is None:
            return None
        if depth >= found.knee:
            return found.level
        if self.curved:
            return found.level + rise(found.slope, found.knee, depth)
        return found.level + found.slope * (found.knee - depth)

    def as_dict(self) -> dict[str, Any]:
        """All fields, ready for JSON."""
        return {**asdict(self), "reasons": list(self.reasons)}

    def report(
        self,
        *,
        depth_unit: str = "µm",
        per_depth: str = "µm",
        energy_unit: str = "the unit of the readings",
        readings: list[str] | None = None,
    ) -> str:
        """The answer as aligned plain text, in the caller's own terms.

        Depths come in `depth_unit`, slopes per `per_depth`, energies in `energy_unit`; `readings` are the names of the readings,
        in their order ("reading 1" and so on where not given).
        """
        lines = ["[[Knee]]"] + [
            f"    {name:<10} = {value}" for name, value in self._knee_rows(depth_unit, per_depth, energy_unit)
        ]
        lines += ["[[Readings]]"] + [f"    {name:<10} = {value}" for name, value in self._reading_rows(readings)]
        lines += ["[[Reasons]]"] + [f"    {said(reason, readings, depth_unit)}" for reason in self.reasons]
        if self.advice:
            lines += ["[[Next]]", f"    {said(self.advice, readings, depth_unit)}"]
        return "\n".join(lines)

    def rows(
        self,
        *,
        depth_unit: str = "µm",
        per_depth: str = "µm",
        energy_unit: str = "the unit of the readings",
        readings: list[str] | None = None,
    ) -> list[tuple[str, str]]:
        """The same as pairs of name and text, to fill two columns of a sheet."""
        rows = (
            self._knee_rows(depth_unit, per_depth, energy_unit)
            + self._reading_rows(readings)
            + [("reason", said(reason, readings, depth_unit)) for reason in self.reasons]
        )
        return rows + [("next", said(self.advice, readings, depth_unit))] if self.advice else rows

    def plot(self, ax: Any = None, *, depths: Iterable[float] = (), energies: Iterable[float] = ()) -> Any:
        """Draw the fitted curve and the interval on axes of matplotlib, an extra: pip install 'gritfuncs[plots]'.

        ax : the axes; new ones where none are given.  They are given back.
        depths, energies : the readings that the knee comes from, to be drawn with it
        """
        from ..pictures.axes import draw
        from .picture import chart_of
        from .readings import checked

        return draw(chart_of(self, *checked(depths, energies)), ax)

    def _repr_html_(self) -> str:
        from .page import knee_page

        return knee_page(self)

    def _knee_rows(self, unit: str, per: str, energy: str) -> list[tuple[str, str]]:
        rows = [("verdict", self.verdict)]
        if self.knee is not None:
            rows += [
                ("knee", f"{self.knee:.4g} {unit}"),
                ("interval", f"{self.low:.4g} to {self.high:.4g} {unit}"),
                ("scatter", f"{self.scatter_low:.4g} to {self.scatter_high:.4g} {unit} (95 %)"),
                ("definition", f"at least ±{self.definition_allowance:.4g} {unit}: real curves are rounded"),
                ("slope", f"{self.slope:.4g} per {per} {'just ' if self.curved else ''}below the knee, in {energy}"),
            ]
        elif self.low is not None:
            rows.append(("knee", f"above {self.low:.4g} {unit}, if there is one"))
        if self.level is not None:
            rows.append(("level", f"{self.level:.4g} in {energy}"))
        return rows

    def _reading_rows(self, readings: list[str] | None) -> list[tuple[str, str]]:
        rows = [("readings", f"{self.n_readings} at {self.n_depths} depths")]
        if self.noise is not None and self.noise_floor is not None:
            least = f"at least {100 * self.noise_floor:.2g} % assumed"
            rows.append(("noise", f"{100 * self.noise:.2g} % of the level about the fit ({least})"))
        if self.drift is not None and self.drift_deviation is not None:
            deviation = f"standard deviation {100 * self.drift_deviation:.2g} %"
            rows.append(("drift", f"{100 * self.drift:+.2g} % of the level a reading taken off ({deviation})"))
        if self.suspect is not None:
            rows.append(("suspect", name_of(self.suspect, readings)))
        return rows


def found_in(knee: Knee) -> FoundKnee | None:
    """The numbers of a knee that was found; None with every other verdict."""
    if (
        knee.knee is None
        or knee.low is None
        or knee.high is None
        or knee.level is None
        or knee.slope is None
        or knee.scatter_low is None
        or knee.scatter_high is None
        or knee.definition_allowance is None
    ):
        return None
    return FoundKnee(
        knee.knee, knee.low, knee.high, knee.level, knee.slope, knee.scatter_low, knee.scatter_high, knee.definition_allowance
    )


def not_resolved(knee: Knee) -> Knee:
    """The answer without what only another verdict may carry."""
    return replace(
        knee,
        verdict=NOT_RESOLVED,
        knee=None,
        low=None,
        high=None,
        level=None,
        slope=None,
        curved=False,
        definition_allowance=None,
    )
