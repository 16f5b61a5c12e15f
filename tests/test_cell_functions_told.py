"""What a cell is told beside numbers: readings left out, readings counted, blanks that come as 0, and texts that fit a cell."""

from __future__ import annotations

import re

import pytest

from gritfuncs import __version__
from gritfuncs.addins.functions import FAILED, FUNCTIONS, LONGEST_TEXT, NUMBER, REPORT_ROWS, TEXT, ErrorCell, failure
from gritfuncs.formulas import catalogue
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

    def test_a_list_of_many_cells_shows_that_it_was_cut(self):
        """Otherwise cell 1 might be the beginning of cell 103."""
        holes = [None] * 90
        said = report([*DEPTHS[:5], *holes, *DEPTHS[5:]], [*ENERGIES[:5], *holes, *ENERGIES[5:]])[-1][1]
        whole = "cells " + ", ".join(str(cell) for cell in range(6, 96))
        assert len(said) == LONGEST_TEXT and said == whole[:252] + "..."

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


class TestReadings:
    """What the cells of the two lists may hold, and how a cell is named that may not."""

    BLOCKS = (DEPTHS[:5], DEPTHS[5:]), (ENERGIES[:5], ENERGIES[5:])  # two rows of five, read as a page is

    def test_a_range_of_several_rows_and_columns_is_read_row_by_row(self):
        knee = CELL["GRIT_KNEE"](*self.BLOCKS)
        assert knee == CELL["GRIT_KNEE"](column(DEPTHS), column(ENERGIES)) == find_knee(DEPTHS, ENERGIES).knee
        depths, energies = self.BLOCKS
        wrong = CELL["GRIT_KNEE"](depths, (energies[0], ("x", *energies[1][1:])))
        assert wrong == f"{FAILED}energies, cell 6, must be a number or blank (got 'x')"

    @pytest.mark.parametrize(
        "depths, energies, got",
        [
            (column(DEPTHS), column(ENERGIES[:9]), "10 x 1 and 9 x 1"),
            ((DEPTHS,), column(ENERGIES), "1 x 10 and 10 x 1"),
            ((DEPTHS,), (ENERGIES[:9],), "1 x 10 and 1 x 9"),
            (tuple(zip(DEPTHS, DEPTHS)), column(ENERGIES), "10 x 2 and 10 x 1"),
            (1.0, column(ENERGIES), "1 x 1 and 10 x 1"),
        ],
    )
    def test_lists_of_another_shape_are_named_in_their_order(self, depths, energies, got):
        assert CELL["GRIT_KNEE"](depths, energies) == (
            f"{FAILED}depths and energies must be ranges of equal shape (got {got} cells)"
        )

    def test_one_cell_is_a_list_of_one(self):
        assert CELL["GRIT_KNEE"](1.0, 120.0) == CELL["GRIT_KNEE"](((1.0,),), ((120.0,),))
        assert CELL["GRIT_KNEE_VERDICT"](1.0, 120.0) == "too few readings"

    @pytest.mark.parametrize(
        "held, said",
        [
            (True, ", must be a number or blank (got True)"),
            ("1,3", ", must be a number or blank (got '1,3')"),
            (ErrorCell("#N/A"), ", is an error (#N/A)"),
            (f"{FAILED}work_rpm must be > 0 1/min (got -1.0)", ": work_rpm must be > 0 1/min (got -1.0)"),
            (f"{FAILED}work_rpm is blanketed", ": work_rpm is blanketed"),  # waits for nothing
        ],
    )
    def test_a_cell_that_holds_no_reading_is_named_with_what_it_holds(self, held, said):
        """What another function refused is told without its mark, which stands in front once."""
        given = [*DEPTHS[:3], held, *DEPTHS[4:]]
        assert CELL["GRIT_KNEE"](column(given), column(ENERGIES)) == f"{FAILED}depths, cell 4{said}"
        assert CELL["GRIT_NEXT_RPM"](column([100.0, held]), column([2.0, 1.9]), *[None] * 4) == f"{FAILED}work_rpms, cell 2{said}"

    def test_any_number_of_blank_rows_may_follow(self):
        blanks = [None, "", "  ", f"{FAILED}power is 0 or blank"]
        assert report([*DEPTHS, *blanks], [*ENERGIES, *reversed(blanks)]) == report(DEPTHS, ENERGIES)
        assert CELL["GRIT_KNEE"](column(blanks), column(blanks)) == f"{FAILED}depths and energies must hold readings (got none)"

    def test_a_reading_that_is_refused_is_counted_without_the_blank_cells(self):
        """So is it in the report, and for the next work rpm."""
        counted = "; readings are counted without the blank cells"
        for depths, is_counted in (([*DEPTHS[:3], None, -1.0, *DEPTHS[5:]], True), ([*DEPTHS[:4], -1.0, *DEPTHS[5:]], False)):
            with pytest.raises(ValueError) as refused:
                find_knee([depth for depth in depths if depth is not None], ENERGIES[-9:] if is_counted else ENERGIES)
            told = FAILED + str(refused.value) + counted * is_counted
            assert CELL["GRIT_KNEE"](column(depths), column(ENERGIES)) == told
            assert report(depths, ENERGIES) == [(told, "")]
        assert self.next([100.0, None, -1.0]) == f"{FAILED}work_rpms must be > 0 1/min (got -1.0){counted}"
        assert self.next([100.0, -1.0, -2.0]) == f"{FAILED}work_rpms must be > 0 1/min (got -2.0)"  # the lowest
        assert self.next([100.0, 0.0, 110.0]) == f"{FAILED}work_rpms must be > 0 1/min (got 0.0)"

    def next(self, rpms):
        return CELL["GRIT_NEXT_RPM"](column(rpms), column([2.0, 1.9, 2.1]), None, None, None, None)

    def test_a_reading_out_of_line_is_counted_without_the_blank_cells(self):
        """The sixth reading stands in the seventh row, for the third is blank."""
        energies = [*ENERGIES[:5], 200.0, *ENERGIES[6:]]
        knee = find_knee(DEPTHS, energies)
        assert knee.suspect == 5 and knee.verdict != "found"
        counted = "; readings are counted without the blank cells"
        told = f"{FAILED}{knee.verdict}: {knee.advice}"
        assert CELL["GRIT_KNEE"](column(DEPTHS), column(energies)) == failure(told[len(FAILED) :])
        with_hole = CELL["GRIT_KNEE"](column([*DEPTHS[:2], None, *DEPTHS[2:]]), column([*energies[:2], 5.0, *energies[2:]]))
        assert with_hole == failure((told + counted)[len(FAILED) :])


class TestFormulas:
    CUT = staticmethod(CELL["GRIT_DEPTH_OF_CUT"])  # of infeed rate and work rpm

    @pytest.mark.parametrize(
        "first, said",
        [
            (None, "infeed_rate is blank"),
            (ErrorCell("#REF!"), "infeed_rate is an error (#REF!)"),
            (f"{FAILED}depth is blank", "depth is blank"),
        ],
    )
    @pytest.mark.parametrize("second", [None, ErrorCell("#N/A"), f"{FAILED}power is blank", -1.0])
    def test_of_several_wrong_inputs_the_first_is_told(self, first, second, said):
        assert self.CUT(first, second) == FAILED + said
        assert self.CUT(((first,), (0.6,)), second)[0] == (FAILED + said,)

    @pytest.mark.parametrize("kind", [tuple, list])
    def test_rows_may_be_of_either_kind(self, kind):
        assert self.CUT(kind([kind([0.3, 0.6])]), 100.0) == ((3.0, 6.0),)


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

    @pytest.mark.parametrize("place, name", list(enumerate(["nominal_rpm", "lowest_work_rpm", "highest_work_rpm"])))
    def test_a_limit_that_is_no_number_is_named(self, place, name):
        for held, said in (("fast", ", must be a number or blank (got 'fast')"), (ErrorCell("#N/A"), ", is an error (#N/A)")):
            given = [None] * 3
            given[place] = held
            assert self.next(*given) == f"{FAILED}{name}{said}"
        given[place] = ((100.0, 101.0, 102.0), (100.0, 101.0, 102.0))
        assert self.next(*given) == f"{FAILED}{name} must be one cell (got 2 x 3 cells)"

    def test_each_limit_is_its_own(self):
        """The loads fall towards the slow side, so that side is tried first, then the other."""
        rpms = self.played(lowest=75.0)
        assert min(rpms) == 75.0 and max(rpms) > 130.0
        rpms = self.played(highest=125.0)
        assert max(rpms) == 125.0 and min(rpms) < 70.0

    def played(self, lowest=None, highest=None):
        """The work rpms of a trial from 100 on whose loads fall with the rpm, without a knee."""
        rpms = []
        while not isinstance(rpm := self.after(rpms or [None], 100.0, lowest, highest), str):
            rpms.append(rpm)
        assert rpm.startswith("stop: ")
        return rpms

    def after(self, rpms, nominal=None, lowest=None, highest=None):
        loads = [rpm and rpm / 50 for rpm in rpms]
        return CELL["GRIT_NEXT_RPM"](column(rpms), column(loads), nominal, lowest, highest, None)

    def test_its_help_says_what_it_does(self):
        function = next(function for function in FUNCTIONS if function.sheet_name == "GRIT_NEXT_RPM")
        helps = {argument.name: argument.help for argument in function.arguments}
        rpms = self.played()
        strides = [min(abs(rpm - other) for other in rpms[:number]) for number, rpm in enumerate(rpms) if number]
        assert f"at most one step of {max(strides):.0f} % of nominal beyond those tried" in function.help
        assert "begins with stop: and says why" in function.help
        assert f"ends {100 - min(rpms):.0f} % below nominal" in helps["lowest_work_rpm"]
        assert f"ends {max(rpms) - 100:.0f} % above nominal" in helps["highest_work_rpm"]
        assert all(
            text.startswith(f"{word} work rpm of")
            for word in ("Lowest", "Highest")
            for text in [helps[f"{word.lower()}_work_rpm"]]
        )
        assert helps["nominal_rpm"].endswith("Blank or 0: that of the first reading.")
        assert self.next() == self.next(100.0) != self.next(90.0)  # of 100, 110 and 90
        assert "A reading with a blank cell is left out." in helps["work_rpms"]
        assert self.after([100.0, None, 110.0]) == self.after([100.0, 110.0])
        yes, no = re.fullmatch(r"(\w+) when burn.* was seen; (\w+) or blank when not\.", helps["damage_seen"]).groups()
        assert self.next(damage=yes).startswith("stop: burn") and self.next(damage=no) == self.next()
        assert "idle taken off" in helps["loads"] and "same shape" in helps["loads"]

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
    def test_the_help_of_the_knee_says_what_each_function_shows(self):
        help_of = {function.sheet_name: function.help for function in FUNCTIONS}
        said = "A number only when the verdict is found, otherwise a text that says what to do next."
        for ending, begins, unit in (
            ("", "Knee of a trial: the grit depth beyond which the energy no longer falls", "µm"),
            ("_LOW", "Lower end of the knee's interval", "µm"),
            ("_HIGH", "Upper end of the knee's interval", "µm"),
            ("_LEVEL", "Energy or power at and beyond the knee", "in the unit of the readings"),
        ):
            assert help_of[f"GRIT_KNEE{ending}"] == f"{begins}, {unit}. {said}"
        block = CELL["GRIT_KNEE_REPORT"](column(DEPTHS), column(ENERGIES))
        assert (
            len(block[0]) == 2 and f"two columns: what, and its value in words; {len(block)} rows" in help_of["GRIT_KNEE_REPORT"]
        )
        assert help_of["GRIT_KNEE_VERDICT"].startswith("Verdict on a trial: ")
        assert help_of["GRIT_VERSION"] == "Version of the add-in." and CELL["GRIT_VERSION"]() == __version__
        for function in FUNCTIONS:
            if function.sheet_name.startswith("GRIT_KNEE"):
                depths, energies = (argument.help for argument in function.arguments)
                assert depths.startswith("Grit depths of the trial in µm") and "blank cell is left out" in depths
                assert energies.startswith("Specific energy or grinding power of each reading, all in one unit")

    @pytest.mark.parametrize("record", list(catalogue), ids=lambda record: record.name)
    def test_the_help_of_an_input_says_what_it_is_and_what_it_must_be(self, record):
        """As the function itself says it when it refuses."""
        function = next(function for function in FUNCTIONS if function.sheet_name == record.sheet_name)
        for place, (argument, quantity) in enumerate(zip(function.arguments, record.arguments)):
            values = [record.example[name.name] for name in record.arguments]
            values[place] = True
            refused = function.call(*values)
            must = refused.partition(f"{argument.name} must be ")[2].rpartition(" (got ")[0]
            assert (
                must
                and argument.help.startswith(quantity.help)
                and argument.help.endswith(f" Must be {must.removeprefix('a number, ')}.")
            )

    @pytest.mark.parametrize("record", list(catalogue), ids=lambda record: record.name)
    def test_the_help_of_a_formula_says_once_what_is_known_of_its_result_as_far_as_it_fits(self, record):
        text = next(function for function in FUNCTIONS if function.sheet_name == record.sheet_name).help
        for sentence in (record.title, *record.gives.help.rstrip(".").split(". ")):
            assert text.count(f"{sentence}.") == 1 or len(f"{text} {sentence}.") > LONGEST_TEXT

    def test_a_function_gives_what_the_list_says(self):
        """A number where all is well, or a text whatever is well."""
        given = {record.sheet_name: [record.example[quantity.name] for quantity in record.arguments] for record in catalogue}
        for function in FUNCTIONS:
            count = 3 if function.sheet_name == "GRIT_NEXT_RPM" else 10  # with all ten it says stop
            lists = [column(DEPTHS[:count]), column(ENERGIES[:count])]
            values = given.get(function.sheet_name, [*lists, None, None, None, None][: len(function.arguments)])
            kinds = {NUMBER: float, TEXT: str}
            assert isinstance(function.call(*values), kinds.get(function.gives, tuple)), function.sheet_name

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
