"""What a cell is told beside numbers: readings left out, readings counted, blanks that come as 0, and texts that fit a cell."""

from __future__ import annotations

import pytest

from gritfuncs.addins.functions import FAILED, FUNCTIONS, LONGEST_TEXT, REPORT_ROWS, ErrorCell, failure
from gritfuncs.knee import find_knee

CELL = {function.sheet_name: function.call for function in FUNCTIONS}
DEPTHS = [1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.7, 1.8, 1.9]
ENERGIES = [180.0, 164.0, 149.0, 135.0, 120.3, 119.5, 120.2, 119.7, 120.1, 120.0]


def column(values):
    return tuple((value,) for value in values)


def report(depths, energies):
    return [row for row in CELL["GRIT_KNEE_REPORT"](column(depths), column(energies)) if row != ("", "")]


class TestLeftOut:
    def test_one_cell_or_several_are_named_in_the_report(self):
        holes = [*ENERGIES[:3], None, *ENERGIES[3:]]
        assert report([*DEPTHS[:3], 1.25, *DEPTHS[3:]], holes)[-1] == (
            "left out",
            "cell 4 of the lists: no number in both; readings are counted without the blank cells",
        )
        said = report([*DEPTHS[:3], 1.25, None, *DEPTHS[3:]], [*ENERGIES[:3], None, 5.0, *ENERGIES[3:]])[-1][1]
        assert said.startswith("cells 4, 5 of the lists")

    def test_blank_cells_below_the_readings_are_no_reading_left_out(self):
        assert report([*DEPTHS, None], [*ENERGIES, None]) == report(DEPTHS, ENERGIES)
        assert report([*DEPTHS, 2.0], [*ENERGIES, None])[-1][0] == "left out"  # half a reading is one

    def test_how_readings_are_counted_is_said_where_a_reading_is_named(self):
        """A number that is refused, or a single reading out of line, is named by its count."""
        holes = [None, *ENERGIES[1:4], -1.0, *ENERGIES[5:]]
        assert CELL["GRIT_KNEE"](column(DEPTHS), column(holes)).endswith("readings are counted without the blank cells")
        assert "counted" not in CELL["GRIT_KNEE"](column(DEPTHS), column([*ENERGIES[:4], -1.0, *ENERGIES[5:]]))
        few = CELL["GRIT_KNEE"](column(DEPTHS[:4]), column([180.0, None, 149.0, 135.0]))
        assert few.startswith(f"{FAILED}too few readings: ") and "counted" not in few

    def test_the_numbers_are_those_of_python(self):
        knee = find_knee(DEPTHS, ENERGIES)
        assert knee.verdict == "found"
        for ending, value in (("", knee.knee), ("_LOW", knee.low), ("_HIGH", knee.high), ("_LEVEL", knee.level)):
            assert CELL[f"GRIT_KNEE{ending}"](column(DEPTHS), column(ENERGIES)) == value
        assert CELL["GRIT_KNEE_VERDICT"](column(DEPTHS), column(ENERGIES)) == "found"


class TestNextRpm:
    RPMS, LOADS = [100.0, 110.0, 90.0], [2.0, 1.9, 2.1]

    def next(self, nominal=None, lowest=None, highest=None, damage=None):
        return CELL["GRIT_NEXT_RPM"](column(self.RPMS), column(self.LOADS), nominal, lowest, highest, damage)

    @pytest.mark.parametrize("blank", [None, "", 0.0, 0])
    def test_a_blank_limit_may_come_as_0(self, blank):
        assert self.next(blank, blank, blank) == self.next() and isinstance(self.next(), float)
        assert self.next(100.0, 20.0, blank) == self.next(100.0, 20.0)

    def test_limits_hold_and_a_failure_elsewhere_is_waited_for(self):
        assert self.next(100.0, 20.0, 112.0) <= 112 < self.next(100.0, 20.0, 400.0)
        for waiting in ("work_rpm is blank", "idle_power is 0 or blank; for a true 0 write {0}", "grit_depth is blank;\nx"):
            assert self.next(FAILED + waiting) == self.next()
        assert self.next(f"{FAILED}work_rpm must be > 0 1/min (got -1.0)").startswith(FAILED)
        assert self.next(ErrorCell("#REF!")) == f"{FAILED}nominal_rpm, is an error (#REF!)"
        assert self.next(None, None, None, ErrorCell("#N/A")).endswith("damage_seen must be yes, no or blank (got '#N/A')")

    def test_loads_in_any_unit_give_the_same(self):
        """Of a meter that reads less than 1, too."""
        loads = [load / 10 for load in self.LOADS]
        assert CELL["GRIT_NEXT_RPM"](column(self.RPMS), column(loads), None, None, None, None) == self.next()

    @pytest.mark.parametrize("place, name", [(0, "work_rpms"), (1, "loads")])
    def test_a_text_among_the_readings_is_named_by_its_list(self, place, name):
        lists = [column(self.RPMS), column(self.LOADS)]
        lists[place] = (*lists[place][:2], ("x",))
        assert CELL["GRIT_NEXT_RPM"](*lists, None, None, None, None).startswith(f"{FAILED}{name}")

    @pytest.mark.parametrize("place, name", [(0, "depths"), (1, "energies")])
    def test_so_it_is_for_the_knee(self, place, name):
        lists = [column(DEPTHS), column(ENERGIES)]
        lists[place] = (*lists[place][:2], ("x",), *lists[place][3:])
        assert CELL["GRIT_KNEE"](*lists).startswith(f"{FAILED}{name}")


class TestTexts:
    def test_a_failure_fits_a_cell_and_shows_that_it_was_cut(self):
        assert failure("x" * (255 - len(FAILED))) == FAILED + "x" * (255 - len(FAILED))
        cut = failure("x" * 300)
        assert len(cut) == LONGEST_TEXT == 255 and cut.endswith("x...")

    def test_a_report_has_its_rows_whatever_the_readings(self):
        """Sheets of users are laid out for sixteen."""
        for depths, energies in ((DEPTHS, ENERGIES), (DEPTHS[:3], ENERGIES[:3]), (DEPTHS, ["x"] * 10)):
            block = CELL["GRIT_KNEE_REPORT"](column(depths), column(energies))
            assert len(block) == REPORT_ROWS == 16 and all(len(row) == 2 and max(map(len, row)) <= 255 for row in block)
        assert block[0][0].startswith(f"{FAILED}energies, cell 1, must be a number or blank (got 'x')")
