"""What stays the same throughout a trial."""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path

from ..formulas import catalogue
from ..quantities import QUANTITIES, SIDE_WORDS
from ..refused import Refused
from .any_file import path_of, reading
from .setup_file import read_given
from .setup_values import setup_from
from .words import side_number


@dataclass(frozen=True)
class Setup:
    """Machine, wheel and work of a plunge grinding trial; only the work rpm is not in it.

    Parameters
    ----------
    work_diameter : diameter of the ground surface [mm], > 0
    infeed_rate : infeed rate on the radius [mm/min], > 0; half of what a machine shows on the diameter
    wheel_speed : peripheral speed of the wheel [m/s], > 0
    wheel_diameter : diameter of the wheel as it is now [mm], > 0; smaller than work_diameter for internal grinding
    side : 1, 0, -1 or "external", "flat", "internal"
    grit_density : active grits per area [1/mm²], > 0
    shape_ratio : chip width over chip thickness, > 0, usually 5 to 20; only grit_density times shape_ratio matters
    contact_width : grinding width [mm], > 0; None where not known, then no specific energy follows from power

    Raises
    ------
    ValueError
        For a value outside its limits, or above what there is on any machine (a slip, or another unit); one line says which,
        what it must be and what it was.

    >>> setup = Setup(work_diameter=20, infeed_rate=0.6, wheel_speed=25, wheel_diameter=200, side="external",
    ...               grit_density=20, shape_ratio=10)
    >>> round(setup.depth(150), 4), round(setup.rpm_for(1.2), 3)
    (1.3652, 89.531)
    """

    work_diameter: float
    infeed_rate: float
    wheel_speed: float
    wheel_diameter: float
    side: int | str
    grit_density: float
    shape_ratio: float
    contact_width: float | None = None

    def __repr__(self) -> str:
        (side,) = (word for word, number in SIDE_WORDS.items() if number == self.side)
        width = "" if self.contact_width is None else f", contact width {self.contact_width:g} mm"
        return (
            f"<Setup {side}: part {self.work_diameter:g} mm, wheel {self.wheel_diameter:g} mm at {self.wheel_speed:g} m/s, "
            f"infeed {self.infeed_rate:g} mm/min on the radius, grit density {self.grit_density:g} 1/mm², "
            f"shape ratio {self.shape_ratio:g}{width}>"
        )

    def __post_init__(self):
        values = {field.name: getattr(self, field.name) for field in fields(self)}
        values["side"] = side_number(values["side"])
        if values["contact_width"] is None:
            del values["contact_width"]
        for name, value in values.items():
            object.__setattr__(self, name, QUANTITIES[name].check_possible(QUANTITIES[name].check_one(value)))
        object.__setattr__(self, "side", int(self.side))
        catalogue["equivalent_diameter"].check(
            wheel_diameter=self.wheel_diameter, work_diameter=self.work_diameter, side=self.side
        )

    @classmethod
    def read(cls, path: str | Path) -> Setup:
        """The setup in a file: a setup.toml, a filled trial.xlsx or speed_table.xlsx, or any file that `read_trial` reads.

        In a .toml file each line is a key and its value, `infeed_rate = "0.9 mm/min"`; a plain number is in the unit of
        the vocabulary.  `gritfuncs setup --new` writes one with comments.  ValueError in one line: everything that is
        missing, or which value must be different, with the file and the line or cell.
        """
        path = path_of(path)
        given = read_given(path)
        with reading(path):
            values, missing = setup_from(given.words)
            if missing:
                hint = f"add {'; '.join(f'{given.shown(word)} = ...' for word in missing)}"
                raise Refused("setup", f"have {', '.join(map(given.shown, missing))}", hint=hint)
            return cls(**values)

    def depth(self, work_rpm: float) -> float:
        """Grit depth [µm] at a work rpm [1/min, > 0]; ValueError for an rpm outside its limits."""
        return catalogue["plunge_grit_depth"].call(work_rpm=work_rpm, **self._plunge())

    def rpm_for(self, depth: float) -> float:
        """Work rpm [1/min] that gives a grit depth [µm, > 0]; ValueError for a depth outside its limits."""
        return catalogue["work_rpm_for"].call(grit_depth=depth, **self._plunge())

    @property
    def removal_rate(self) -> float:
        """Specific removal rate [mm³/(mm·s)]; the same at every work rpm."""
        return catalogue["removal_rate"].call(self.work_diameter, self.infeed_rate)

    def _plunge(self) -> dict[str, float]:
        return {field.name: getattr(self, field.name) for field in fields(self) if field.name != "contact_width"}
