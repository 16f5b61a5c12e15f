"""The Excel functions through xlwings' own Windows code, Excel alone replaced."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from setups import setups
from test_catalogue import VBA_WORDS
from xlw_call import Excel, cells

from gritfuncs import __version__
from gritfuncs.addins import excel as module
from gritfuncs.addins.functions import FUNCTIONS
from gritfuncs.formulas import catalogue
from gritfuncs.knee import find_knee

DEPTHS = [0.5, 0.7, 0.9, 1.1, 1.3, 1.5, 1.7, 1.9]
ENERGIES = [9.0, 7.2, 5.1, 3.0, 3.0, 3.1, 3.0, 2.9]
# xlErrNull to xlErrNA of Excel's object model, less 2000 (from memory).
OLDER_ERRORS = {0: "#NULL!", 7: "#DIV/0!", 15: "#VALUE!", 23: "#REF!", 29: "#NAME?", 36: "#NUM!", 42: "#N/A"}
DIVISION_BY_ZERO, SPILL, CALC = -2146826281, -2146826243, -2146826238
SETUP = [30, 25, 50, 200, 2, 15]  # of GRIT_DEPTH


@pytest.fixture(scope="module")
def excel():
    with Excel("gritfuncs.addins.excel") as process:
        yield process


class TestNumbers:
    @pytest.mark.parametrize("record", list(catalogue), ids=lambda record: record.name)
    @settings(max_examples=10)
    @given(data=st.data())
    def test_every_formula_gives_what_python_gives(self, excel, record, data):
        setup = data.draw(setups(record))
        values = [setup[quantity.name] for quantity in record.arguments]
        expected = record.call(**setup)
        assert excel.cell(record.sheet_name, *values) == expected
        assert excel.cell(record.sheet_name, *map(cells, values)) == expected

    @pytest.mark.parametrize("record", [r for r in catalogue if r.native], ids=lambda record: record.name)
    @settings(max_examples=5)
    @given(data=st.data())
    def test_columns_give_a_column(self, excel, record, data):
        rows = data.draw(st.lists(setups(record), min_size=2, max_size=4))
        columns = [cells(*(row[quantity.name] for row in rows)) for quantity in record.arguments]
        assert excel.cell(record.sheet_name, *columns) == [[record.call(**row)] for row in rows]

    def test_a_block_with_single_values_gives_a_block_of_its_shape(self, excel):
        speeds = [[30, 40, 50], [60, 70, 80]]
        shown = excel.cell("GRIT_DEPTH", cells(*speeds), *SETUP[1:])
        assert shown == [[catalogue["grit_depth"].call(speed, *SETUP[1:]) for speed in row] for row in speeds]

    def test_a_computed_array_counts_as_a_range(self, excel):
        assert excel.cell("GRIT_DEPTH", {"array": [[30, 40]]}, *SETUP[1:]) == excel.cell(
            "GRIT_DEPTH", cells([30, 40]), *SETUP[1:]
        )

    def test_a_column_and_a_row_give_a_table(self, excel):
        shown = excel.cell("GRIT_DEPTH_OF_CUT", cells(0.3, 0.6), cells([100, 150, 200]))
        assert shown == [[1000 * rate / rpm for rpm in (100, 150, 200)] for rate in (0.3, 0.6)]

    def test_a_designation(self, excel):
        assert excel.cell("GRIT_MEAN_SIZE", "D126") == 115.5
        assert excel.cell("GRIT_MEAN_SIZE", cells("D126", "B64")) == [[115.5], [58.0]]

    def test_version(self, excel):
        assert excel.cell("GRIT_VERSION") == __version__


class TestFailures:
    """Never a number, a blank or a traceback: a text that says which input is wrong."""

    @pytest.mark.parametrize("value, said", [
        (None, "is blank"),
        ("", "is blank"),
        ("  ", "is blank"),
        ("12", "must be a number, > 0 m/min (got '12')"),
        (True, "must be a number, > 0 m/min (got True)"),
        (False, "must be a number, > 0 m/min (got False)"),
        (-3, "must be > 0 m/min (got -3.0)"),
        (0, "must be > 0 m/min (got 0.0)"),
        ({"error": DIVISION_BY_ZERO}, "is an error (#DIV/0!)"),
        *(({"error": -2146828288 + 2000 + number}, f"is an error ({text})") for number, text in OLDER_ERRORS.items()),
        ({"error": SPILL}, "is an error (#SPILL!)"),
        ({"error": CALC}, "is an error (#CALC!)"),
        ({"error": -2146826230}, "is an error (an error of Excel)"),
        ({"error": -2146828288}, "is an error (an error of Excel)"),  # the first and the last of them
        ({"error": -2146825289}, "is an error (an error of Excel)"),
        ({"date": [2024, 3, 1]}, "must be a number, > 0 m/min (got 'date 2024-03-01')"),
        ({"date": [2024, 11, 9, 23, 59]}, "must be a number, > 0 m/min (got 'date 2024-11-09')"),
        ("#FIELD", "must be a number, > 0 m/min (got '#FIELD')"),  # somebody typed it
        ({"currency": "1.2346"}, "must be a number, > 0 m/min (got '1.2346 in currency format')"),
    ])  # fmt: skip
    def test_one_wrong_cell(self, excel, value, said):
        text = f"#GRIT! work_speed {said}"
        assert excel.cell("GRIT_DEPTH", cells(value), *SETUP[1:]) == text
        right = catalogue["grit_depth"].call(*SETUP)
        assert excel.cell("GRIT_DEPTH", cells(30, value, 30), *SETUP[1:]) == [[right], [text], [right]]

    @pytest.mark.parametrize("function", FUNCTIONS, ids=lambda function: function.sheet_name)
    def test_every_function_says_so_when_all_its_cells_are_blank(self, excel, function):
        shown = excel.cell(function.sheet_name, *[cells(None)] * len(function.arguments))
        first = shown[0][0] if isinstance(shown, list) else shown
        if function.sheet_name in ("GRIT_VERSION", "GRIT_KNEE_VERDICT", "GRIT_KNEE_REPORT"):
            assert isinstance(first, str) and first
        else:
            assert first.startswith("#GRIT! ")

    @pytest.mark.parametrize("record", list(catalogue), ids=lambda record: record.name)
    @settings(max_examples=5)
    @given(data=st.data())
    def test_every_argument_of_every_formula_is_checked(self, excel, record, data):
        setup = data.draw(setups(record))
        quantity = data.draw(st.sampled_from(record.arguments))
        wrong = data.draw(st.sampled_from([None, "x", True, -3.5, {"error": DIVISION_BY_ZERO}]))
        values = [wrong if name is quantity else setup[name.name] for name in record.arguments]
        text = excel.cell(record.sheet_name, *(cells(value) for value in values))
        assert re.match(rf"#GRIT! {quantity.name} (is|must be) ", text)

    def test_the_failure_of_an_inner_function_is_handed_on(self, excel):
        inner = excel.cell("GRIT_DEPTH_OF_CUT", 0.6, -150)
        assert inner.startswith("#GRIT! work_rpm must be > 0")
        assert excel.cell("GRIT_CONTACT_LENGTH", inner, 20) == inner

    def test_ranges_that_do_not_fit_together(self, excel):
        text = excel.cell("GRIT_DEPTH_OF_CUT", cells(0.3, 0.6), cells(100, 150, 200))
        assert text.startswith("#GRIT! infeed_rate must be one cell or a range that fits 3 rows")

    def test_values_that_do_not_fit_together(self, excel):
        text = excel.cell("GRIT_EQUIVALENT_DIAMETER", 50, 40, -1)
        assert text.startswith("#GRIT! work_diameter must be > wheel_diameter for internal grinding")

    def test_a_slip_in_the_library_stays_one_line_too(self, monkeypatch):
        function = FUNCTIONS[0]
        monkeypatch.setattr(type(function), "call", lambda *_: 1 / 0)
        text = module._user_function(function)(*[[[1.0]]] * len(function.arguments))
        assert text == f"#GRIT! {function.sheet_name} failed (ZeroDivisionError: division by zero)"


class TestKnee:
    def test_numbers_and_verdict(self, excel):
        knee = find_knee(DEPTHS, ENERGIES)
        lists = cells(*DEPTHS), cells(*ENERGIES)
        numbers = [excel.cell(name, *lists) for name in ("GRIT_KNEE", "GRIT_KNEE_LOW", "GRIT_KNEE_HIGH")]
        assert numbers == [knee.knee, knee.low, knee.high]
        assert excel.cell("GRIT_KNEE_LEVEL", *lists) == knee.level
        assert excel.cell("GRIT_KNEE_VERDICT", *lists) == knee.verdict == "found"

    def test_rows_and_columns_give_the_same(self, excel):
        rows = excel.cell("GRIT_KNEE", cells(DEPTHS), cells(ENERGIES))
        assert rows == excel.cell("GRIT_KNEE", cells(*DEPTHS), cells(*ENERGIES))

    def test_report_is_a_block_of_texts(self, excel):
        report = excel.cell("GRIT_KNEE_REPORT", cells(*DEPTHS), cells(*ENERGIES))
        assert report[0] == ["verdict", "found"]
        assert all(len(row) == 2 and all(isinstance(text, str) for text in row) for row in report)

    def test_no_number_without_the_verdict_found(self, excel):
        text = excel.cell("GRIT_KNEE", cells(*DEPTHS[:4]), cells(*ENERGIES[:4]))
        assert text.startswith("#GRIT! ")

    def test_a_pair_with_a_blank_cell_is_left_out(self, excel):
        with_blank = excel.cell("GRIT_KNEE", cells(*DEPTHS, 2.1), cells(*ENERGIES, None))
        assert with_blank == find_knee(DEPTHS, ENERGIES).knee

    def test_an_error_among_the_readings_is_no_number(self, excel):
        energies = cells(*ENERGIES[:-1], {"error": DIVISION_BY_ZERO})
        text = excel.cell("GRIT_KNEE", cells(*DEPTHS), energies)
        assert text == "#GRIT! energies, cell 8, is an error (#DIV/0!)"


@pytest.fixture(scope="module")
def imported(excel):
    return excel.imported()


class TestImport:
    def test_each_function_once_with_its_arguments(self, imported):
        declared = re.findall(r"^Function (\w+)\(([^)]*)\)", imported["text"], re.MULTILINE)
        expected = {f.sheet_name: ", ".join(argument.name for argument in f.arguments) for f in FUNCTIONS}
        assert dict(declared) == expected and len(declared) == len(expected)

    def test_the_macro_text_calls_this_module(self, imported):
        assert imported["text"].isascii() and max(map(len, imported["text"].splitlines())) <= 1023
        calls = re.findall(r'XLPy\.CallUDF\("([^"]*)", "(\w+)"', imported["text"])
        assert {target for target, _ in calls} == {"gritfuncs.addins.excel"}
        assert {name for _, name in calls} == {function.sheet_name for function in FUNCTIONS}

    def test_what_the_function_wizard_shows(self, imported):
        for function in FUNCTIONS:
            told = imported["options"][f"'Book1.xlsm'!{function.sheet_name}"]
            assert told["Category"] == "gritfuncs"
            assert told["Description"] == function.help  # xlwings cuts at 255
            helps = [argument.help for argument in function.arguments]
            assert told["ArgumentDescriptions"] == (helps or None)

    def test_names_within_the_limits_of_vba_and_the_wizard(self):
        for function in FUNCTIONS:
            names = [argument.name for argument in function.arguments]
            assert sum(map(len, names)) + len(names) <= 250
            assert not {name.lower() for name in (function.sheet_name, *names)} & VBA_WORDS


class TestOffWindows:
    def test_the_module_is_importable_and_its_functions_are_plain(self):
        code = "from gritfuncs.addins.excel import *; print(GRIT_CONTACT_LENGTH([[50]], [[20]]))"
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
        assert done.stdout == "1.0\n"

    def test_a_star_import_hands_on_the_functions_alone(self):
        assert set(module.__all__) == {function.sheet_name for function in FUNCTIONS}


class TestFolder:
    def test_workbook_with_the_macros_of_xlwings_and_settings(self, tmp_path):
        workbook, conf = module.write_folder(tmp_path / "new")
        with zipfile.ZipFile(workbook) as archive:
            assert archive.testzip() is None and "xl/vbaProject.bin" in archive.namelist()
        assert conf.read_text() == '"UDF MODULES","gritfuncs.addins.excel"\n'
        assert workbook.parent == conf.parent == tmp_path / "new"

    def test_nothing_is_overwritten(self, tmp_path):
        for name in ("xlwings.conf", "gritfuncs.xlsm"):
            folder = tmp_path / f"with {name}"
            folder.mkdir()
            (folder / name).write_text("mine")
            with pytest.raises(ValueError, match=f"{name}: must not exist yet"):
                module.write_folder(folder)
            assert [path.read_text() for path in folder.iterdir()] == ["mine"]

    def test_folders_above_it_are_made_and_other_files_in_it_stay(self, tmp_path):
        (tmp_path / "mine").write_text("mine")
        module.write_folder(tmp_path)
        assert (tmp_path / "mine").read_text() == "mine" and (tmp_path / "xlwings.conf").exists()
        assert module.write_folder(tmp_path / "a" / "b")[0] == tmp_path / "a" / "b" / "gritfuncs.xlsm"

    def test_a_folder_that_cannot_be_made(self, tmp_path):
        (tmp_path / "file").write_text("")
        with pytest.raises(ValueError, match=r"file: cannot be written \(File exists\)$"):
            module.write_folder(tmp_path / "file")

    def test_instructions_name_what_was_written(self, tmp_path):
        text = module.instructions()
        for written in module.write_folder(tmp_path):
            assert written.name in text
        assert "gritfuncs.addins.excel" in text and max(map(len, text.splitlines())) <= 120


class TestPage:
    page = (Path(__file__).parents[1] / "docs" / "excel.md").read_text(encoding="utf-8")

    def test_has_the_steps_that_the_command_prints(self):
        assert module.instructions() in self.page

    def test_its_examples_give_what_it_says(self, excel):
        examples = re.findall(r"^\| `=(GRIT_\w+)\(([^:`]*)\)` \| ([\d.]+)", self.page, re.MULTILINE)
        assert len(examples) >= 4
        for name, arguments, printed in examples:
            shown = excel.cell(name, *json.loads(f"[{arguments}]"))
            assert f"{shown:.6g}" == printed

    def test_its_failures_are_those_of_the_functions(self, excel):
        for value in (-3, None, True):
            text = excel.cell("GRIT_DEPTH", cells(value), *SETUP[1:])
            assert f"`{text}`" in self.page
