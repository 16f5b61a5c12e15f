"""A trial that has been read."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import Any

from ..knee import Knee, find_knee
from ..planning import Limits
from ..quantities import QUANTITIES
from ..refused import Refused
from .readings import BLANK, EXCLUDED, LEFT_OUT, USED, Reading
from .setup import Setup

STATUS_KINDS = (USED, EXCLUDED, LEFT_OUT.split(":")[0], BLANK)
SAME_INFEED = 0.02  # of the grit depth; how far depths from a table may be from one fourth root of the rpm


@dataclass(frozen=True)
class Trial:
    """The readings of one trial, judged row by row, with the knee that follows from those that are used.

    Made by `read_trial`.  Without a setup the grit depths are relative, (work rpm / first used work rpm)^(1/4), which
    holds at constant infeed rate, wheel and work: the knee then is known as an rpm, not in µm.
    """

    source: str  # file, and sheet where it has sheets
    readings: tuple[Reading, ...]  # every row, in the order of the file
    setup: Setup | None
    load_kind: str  # power, current or relative; specific_energy where the file gives energies
    depth_unit: str  # µm, or relative
    energy_unit: str  # J/mm³; kW or A of net load where no specific energy follows; relative for a load meter
    noise: float | None = None  # reading-to-reading scatter as a share (0.02 = 2 %); None: from the readings
    remarks: tuple[str, ...] = ()  # plain sentences: what was read and what could not be computed
    limits: Limits = Limits()  # of the machine, as far as the file states them
    nominal_rpm: float | None = None  # 1/min, where the trial started, if the file says so

    @property
    def used(self) -> tuple[Reading, ...]:
        """The readings that count."""
        return tuple(reading for reading in self.readings if reading.is_used)

    @property
    def depths(self) -> tuple[float, ...]:
        """Grit depths of the used readings, in depth_unit."""
        return tuple(reading.depth for reading in self.used)

    @property
    def energies(self) -> tuple[float, ...]:
        """Energies of the used readings, in energy_unit."""
        return tuple(reading.energy for reading in self.used)

    @property
    def left_out(self) -> tuple[tuple[int, str], ...]:
        """Row and reason of every reading that does not count, blank rows aside."""
        return tuple((reading.row, reading.status) for reading in self.readings if reading.kind not in (USED, BLANK))

    @property
    def repeated(self) -> tuple[tuple[int, str], ...]:
        """Row and status of the used readings that say the same as an earlier one."""
        return tuple((reading.row, reading.status) for reading in self.used if reading.status != USED)

    @property
    def counts(self) -> dict[str, int]:
        """Number of rows by kind: used, excluded, left out, blank."""
        return {kind: sum(reading.kind == kind for reading in self.readings) for kind in STATUS_KINDS}

    @cached_property
    def knee(self) -> Knee:
        """The knee of the used readings, depths in depth_unit and energies in energy_unit; ValueError without any."""
        if not self.used:
            raise Refused("", f"have at least one usable reading ({self._why_none()})", place=(self.source,))
        return find_knee(self.depths, self.energies, noise=self.noise)

    def _why_none(self) -> str:
        if not self.left_out:
            return "all rows are blank"
        row, reason = self.left_out[0]
        return f"row {row}: {reason}" + (f", and {len(self.left_out) - 1} more" if self.left_out[1:] else "")

    def rpm_for(self, depth: float) -> float | None:
        """Work rpm [1/min] that gives a depth [> 0, in depth_unit] under the conditions of the trial.

        The rpm of the readings go before the setup, since depths from a table may be defined in another way.  None
        where neither tells; ValueError for a depth outside its limits.
        """
        depth = QUANTITIES["grit_depth"].check_one(depth)
        known = [(reading.work_rpm, reading.depth) for reading in self.used if (reading.work_rpm or 0) > 0]
        if not known:
            return self.setup.rpm_for(depth) if self.setup else None
        scales = [at / rpm**0.25 for rpm, at in known]
        scale = math.fsum(scales) / len(scales)
        if any(abs(each - scale) > SAME_INFEED * scale for each in scales):
            return None  # the infeed rate changed between readings: no rpm belongs to a depth alone
        try:
            rpm = (depth / scale) ** 4
        except OverflowError:
            rpm = math.inf
        return QUANTITIES["work_rpm"].check_one(rpm, "depth, as a work rpm,")

    @property
    def knee_rpm(self) -> float | None:
        """Work rpm [1/min] that holds the knee under the conditions of the trial; None unless a knee was found."""
        return None if self.knee.knee is None else self.rpm_for(self.knee.knee)

    @property
    def suspect(self) -> Reading | None:
        """The reading that is out of line with the others, or None."""
        return None if self.knee.suspect is None else self.used[self.knee.suspect]

    def report(self) -> str:
        """What was read, what was left out and why, the setup, the knee and the rpm that holds it, as plain text."""
        from .report import report

        return report(self)

    def as_dict(self) -> dict[str, Any]:
        """Everything, ready for JSON; knee is None where no reading can be used."""
        return {
            "source": self.source,
            "setup": self.setup and asdict(self.setup),
            "load_kind": self.load_kind,
            "depth_unit": self.depth_unit,
            "energy_unit": self.energy_unit,
            "noise": self.noise,
            "limits": asdict(self.limits),
            "nominal_rpm": self.nominal_rpm,
            "counts": self.counts,
            "remarks": list(self.remarks),
            "readings": [asdict(reading) for reading in self.readings],
            "knee": self.knee.as_dict() if self.used else None,
            "knee_rpm": self.knee_rpm if self.used else None,
            "suspect_row": self.suspect.row if self.used and self.suspect else None,
        }
