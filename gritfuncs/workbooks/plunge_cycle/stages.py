"""The stages of plunge_cycle.xlsx: what is filled in for each, and where it stands; a column for each stage on both sheets."""

from __future__ import annotations

from dataclasses import dataclass

from ...quantities import QUANTITIES
from ...quantity import Quantity

BELOW, ABOVE, TOO_FAST = "depth below band", "depth above band", "traverse too fast"
UNKNOWN = "not known"  # for want of an input that may stay blank
NOTHING = "-"  # where a stage has no such value
START = "start_"  # before the name of a value at the start of a stage; all others are those at its end


@dataclass(frozen=True)
class Stage:
    """A stage and the inputs it needs; energy is the only one that may stay blank."""

    name: str
    label: str
    inputs: tuple[str, ...]

    def given(self, word: str) -> str:
        return f"in_{self.name}_{word}"

    def used(self, word: str) -> str:
        """An input in shop units, on the radius where the machine counts on it."""
        factors = [name for words, name in FACTORS if word in words]
        return f"({'*'.join((self.given(word), *factors))})" if factors else self.given(word)

    def value(self, word: str) -> str:
        return f"out_{self.name}_{word}"

    def diameter(self, at: str = "") -> str:
        """The work diameter at the end of the stage, or at its START."""
        return self.value("start_diameter" if at else "work_diameter")

    def both_ends(self, word: str) -> tuple[str, str]:
        """A value at the start and at the end: what goes with the work diameter has its extremes there."""
        return self.value(START + word), self.value(word)


FACTORS = (  # of inputs as typed: which, and the cell
    (("infeed_rate", "stock"), "out_infeed_factor"),
    (("infeed_rate", "stock", "rate", "ground_length", "overrun"), "out_length_factor"),
    (("specific_energy",), "out_energy_factor"),
)
_PLUNGE_INPUTS = ("infeed_rate", "stock", "work_rpm")
PLUNGES = (
    Stage("rough", "rough", _PLUNGE_INPUTS),
    Stage("semi", "semi-finish", _PLUNGE_INPUTS),
    Stage("finish", "finish", _PLUNGE_INPUTS),
)
SPARK = Stage("spark", "spark-out", ("work_rpm", "revolutions"))
TRAVERSE = Stage("traverse", "traverse", ("stock", "work_rpm", "passes", "rate", "ground_length", "overrun"))
STAGES = (*PLUNGES, SPARK, TRAVERSE)
REMOVING = (*PLUNGES, TRAVERSE)

# Usual ranges: common practice, no source.
_STOCK = Quantity(
    "stock",
    "-",
    "stock",
    "mm",
    "What the stage takes off, on the radius or on the diameter as chosen.",
    usual=(0.001, 5),
    inch_unit="in",
)
_REVOLUTIONS = Quantity("revolutions", "-", "revolutions without infeed", "-", "Work revolutions of the spark-out.")
_PASSES = Quantity("passes", "-", "passes", "-", "Number of traverse passes, a whole number.", low=1.0, low_open=False)
_TRAVERSE_RATE = Quantity("traverse_rate", "-", "traverse rate", "mm/min", "Feed along the axis.", inch_unit="in/min")
_GROUND_LENGTH = Quantity("ground_length", "-", "length ground by a pass", "mm", "Along the axis.")
_OVERRUN = Quantity(
    "overrun", "-", "overrun of a pass", "mm", "Path beyond the ground length, both ends together.", low_open=False
)
INPUTS = {
    "infeed_rate": (
        QUANTITIES["infeed_rate"],
        "infeed rate as the machine shows it",
        "On radius or diameter, as chosen on Inputs.",
    ),
    "stock": (_STOCK, "stock as the machine shows it", "As chosen on Inputs. Traverse: of all passes."),
    "work_rpm": (QUANTITIES["work_rpm"], "work rpm", "Compare with the rpm that holds the target, below."),
    "revolutions": (_REVOLUTIONS, "revolutions without infeed", "Spark-out: work revolutions after the infeed stops."),
    "passes": (_PASSES, "number of passes", "Traverse: whole number; each takes the same depth."),
    "rate": (_TRAVERSE_RATE, "traverse rate", "Feed along the axis."),
    "ground_length": (_GROUND_LENGTH, "length ground by a pass", "Along the axis."),
    "overrun": (_OVERRUN, "overrun of a pass", "Beyond that length, both ends; may be 0."),
    "specific_energy": (
        QUANTITIES["specific_energy"],
        "specific energy of this stage",
        "May be blank: as on Inputs. More for shallow grits.",
    ),
}


SHEET, CALC = "Cycle", "calc cycle"
FIRST_COLUMN, FIRST_INPUT_ROW = 3, 7
