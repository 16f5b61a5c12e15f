"""The Calc extension, installed in a throw-away profile and used by typing formulas into a real Calc."""

from __future__ import annotations

import ast
import random
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from libreoffice import LibreOffice, stored_formulas
from setups import WORDS, range_of

from gritfuncs import __version__
from gritfuncs.addins.calc import IDENTIFIER, build_oxt
from gritfuncs.addins.functions import FUNCTIONS, LONGEST_TEXT, REPORT_ROWS
from gritfuncs.addins.naming import CALC_SERVICE, calc_stored_name, sheet_name
from gritfuncs.formulas import catalogue
from gritfuncs.knee import find_knee
from gritfuncs.quantities import QUANTITIES
from gritfuncs.spreadsheets.cell_functions import CellError

ROWS = 20
FORMULAS = list(catalogue)
DEPTHS = [0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3]
ENERGIES = [72.3, 63.8, 56.1, 48.2, 40.1, 39.8, 40.2, 39.9]


@pytest.fixture(scope="module")
def extension(tmp_path_factory):
    return build_oxt(tmp_path_factory.mktemp("calc") / "gritfuncs.oxt")


@pytest.fixture(scope="module")
def calc(extension):
    with LibreOffice([extension]) as office:
        yield office


def column(number):
    text = ""
    while number:
        number, rest = divmod(number - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


def close(value, expected):
    return isinstance(value, float) and value == pytest.approx(expected, rel=1e-12, abs=0)


# --- the file


def test_the_same_sources_give_the_same_bytes(extension, tmp_path):
    assert build_oxt(tmp_path / "again.oxt").read_bytes() == extension.read_bytes()


def test_what_travels_needs_the_standard_library_of_python_3_8_only(extension, tmp_path):
    with zipfile.ZipFile(extension) as archive:
        archive.extractall(tmp_path)
    for source in tmp_path.rglob("*.py"):
        ast.parse(source.read_text(encoding="utf-8"), feature_version=(3, 8))
    program = (
        "import sys; sys.path.insert(0, sys.argv[1])\n"
        "from gritfuncs.addins.functions import FUNCTIONS\n"
        "for function in FUNCTIONS: function.call(*[1.0] * len(function.arguments))\n"
        "print(sys.modules['gritfuncs'].__file__)\n"
    )
    # -I and -S hide whatever is installed, so that only the standard library is left to import from
    run = subprocess.run(
        [sys.executable, "-I", "-S", "-c", program, str(tmp_path / "pythonpath")], capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stderr
    assert run.stdout.startswith(str(tmp_path))


# --- numbers


def test_a_gritfuncs_of_the_same_python_does_not_stand_in_for_that_of_the_extension(extension, tmp_path):
    with zipfile.ZipFile(extension) as archive:
        archive.extractall(tmp_path / "extension")
    other = tmp_path / "other" / "gritfuncs"
    other.mkdir(parents=True)
    (other / "__init__.py").write_text("raise RuntimeError('the other one')")
    component = tmp_path / "extension" / "calc_component.py"
    code = (
        "import sys, unittest.mock; sys.path.insert(0, sys.argv[1]); sys.modules['unohelper'] = unittest.mock.MagicMock();"
        "exec(compile(open(sys.argv[2]).read(), sys.argv[2], 'exec'), {'__file__': sys.argv[2], '__name__': 'component'});"
        "print(sys.modules['gritfuncs'].__file__)"
    )
    made = subprocess.run([sys.executable, "-c", code, other.parent, component], capture_output=True, text=True)
    assert made.stdout.startswith(str(tmp_path / "extension")), made.stderr


def test_each_example_gives_its_value_in_a_cell(calc):
    typed = {}
    for row, record in enumerate(FORMULAS, 1):
        values = [record.example[quantity.name] for quantity in record.arguments]
        cells = ";".join(f'"{value}"' if isinstance(value, str) else repr(value) for value in values)
        typed[f"A{row}"] = f"={record.sheet_name}({cells})"
    shown = calc.type(typed)
    for row, record in enumerate(FORMULAS, 1):
        example = dict(record.example)
        printed = example.pop(record.gives.name)
        assert close(shown[f"A{row}"], record.call(**example)), record.name
        assert shown[f"A{row}"] == pytest.approx(printed, rel=1e-6), record.name


def random_value(quantity, draw):
    if quantity.is_text:
        return draw.choice(WORDS)
    if quantity.choices:
        return draw.choice(quantity.choices)
    return draw.uniform(*range_of(quantity))


def random_sheet():
    """Columns of random inputs for every formula: {first cell: rows}, {name: its input columns}, {name: rows of inputs}."""
    draw, data, columns, inputs, first = random.Random(20), {}, {}, {}, 1
    for record in FORMULAS:
        rows = [[random_value(quantity, draw) for quantity in record.arguments] for _ in range(ROWS)]
        data[f"{column(first)}1"] = rows
        columns[record.name] = [column(first + place) for place in range(len(record.arguments))]
        inputs[record.name] = rows
        first += len(record.arguments)
    return data, columns, inputs, first


def as_python(record, values):
    """What Python gives for a row: a number, or the text that a cell shows for its ValueError."""
    try:
        return record.call(*(value if isinstance(value, str) else float(value) for value in values))
    except ValueError as error:
        return f"#GRIT! {error}"


@pytest.mark.parametrize("filled_down", [True, False], ids=["filled down", "array formula"])
def test_random_inputs_agree_with_python(calc, filled_down):
    data, columns, inputs, first = random_sheet()
    typed, place = {}, {}
    for record in FORMULAS:
        place[record.name] = column(first)
        first += 1
        ranges = ";".join(f"{name}1" + ("" if filled_down else f":{name}{ROWS}") for name in columns[record.name])
        formula = f"={record.sheet_name}({ranges})"
        typed[f"{place[record.name]}1:{place[record.name]}{ROWS}"] = formula if filled_down else "{" + formula + "}"
    shown = calc.type(typed, data)
    numbers = 0
    for record in FORMULAS:
        for row, values in enumerate(inputs[record.name], 1):
            value, expected = shown[f"{place[record.name]}{row}"], as_python(record, values)
            if isinstance(expected, str):
                assert value == expected, (record.name, values)
            else:
                assert close(value, expected), (record.name, values)
                numbers += 1
    assert numbers > 0.9 * ROWS * len(FORMULAS)


def test_a_column_and_a_row_make_a_table_and_one_cell_serves_all(calc):
    shown = calc.type(
        {
            "D1:F2": "{=GRIT_WORK_SPEED(A1:A2;A4:C4)}",
            "D4:F5": "{=GRIT_WORK_SPEED(A1:A2;150)}",
            "D7:D8": "{=GRIT_WORK_SPEED(A1:A2;A4:B4)}",
        },
        {"A1": [[20], [30]], "A4": [[100, 150, 200]]},
    )
    speed = catalogue["work_speed"].call
    for row, diameter in enumerate((20.0, 30.0), 1):
        for letter, rpm in zip("DEF", (100.0, 150.0, 200.0)):
            assert close(shown[f"{letter}{row}"], speed(diameter, rpm))
            assert close(shown[f"{letter}{row + 3}"], speed(diameter, 150.0))
        assert close(shown[f"D{row + 6}"], speed(diameter, 100.0))


def test_ranges_that_do_not_fit_together_are_named(calc):
    assert calc.type({"D1": "=GRIT_WORK_SPEED(A1:A3;B1:B2)"}, {"A1": [[1, 1], [1, 1], [1, 1]]})["D1"] == (
        "#GRIT! work_rpm must be one cell or a range that fits 3 rows and 1 columns (got 2 rows and 1 columns)"
    )


def test_results_serve_inside_other_functions(calc):
    shown = calc.type(
        {
            "A1": "=ROUND(GRIT_WORK_SPEED(20;150);2)",
            "A2": "=SUM(GRIT_WORK_SPEED({20;30};150))",
            "A3": '=IF(GRIT_WORK_SPEED(20;150)>9;"fast";"slow")',
            "A4": "=ISNUMBER(GRIT_WORK_SPEED(-20;150))",
            "A5": "=GRIT_SPECIFIC_ENERGY(GRIT_NET_POWER(3.2;0.9);GRIT_REMOVAL_RATE(20;0.6);20)",
            "A6": "=GRIT_SPECIFIC_ENERGY(GRIT_NET_POWER(3.2;0.9);GRIT_REMOVAL_RATE(20;-1);20)",
            "A7": "=GRIT_VERSION()",
        }
    )
    speed = catalogue["work_speed"].call
    assert shown["A1"] == 9.42 and close(shown["A2"], speed(20, 150) + speed(30, 150)) and shown["A3"] == "fast"
    assert shown["A4"] is False
    assert close(shown["A5"], catalogue["specific_energy"].call(3.2 - 0.9, catalogue["removal_rate"].call(20, 0.6), 20))
    assert shown["A6"] == "#GRIT! infeed_rate must be > 0 mm/min (got -1.0)"
    assert shown["A7"] == __version__


def test_the_formulas_of_the_document_give_the_results_beside_them(calc):
    text = (Path(__file__).parents[1] / "docs" / "calc.md").read_text(encoding="utf-8")
    rows = re.findall(r"\| `(=GRIT_[^`]*\([^`,]*\))` \| ([0-9.]+)", text)
    assert len(rows) >= 5
    shown = calc.type({f"A{row}": formula for row, (formula, _) in enumerate(rows, 1)})
    for row, (formula, result) in enumerate(rows, 1):
        digits = len(result.partition(".")[2])
        assert round(shown[f"A{row}"], digits) == float(result), formula


# --- cells that hold no good number


def test_blank_text_negative_and_error_cells_never_give_a_number(calc):
    bad = {"A": None, "B": "n/a", "C": -7, "D": "=1/0", "E": "=1E308*-1"}
    cases = []
    for record in FORMULAS:
        values = ['"D126"' if quantity.is_text else repr(record.example[quantity.name]) for quantity in record.arguments]
        for place, quantity in enumerate(record.arguments):
            for letter in bad:
                cases.append(
                    (
                        f"={record.sheet_name}({';'.join(values[:place] + [f'{letter}1'] + values[place + 1 :])})",
                        quantity.name,
                        letter,
                    )
                )
    shown = calc.type({f"H{row}": case[0] for row, case in enumerate(cases, 1)}, {"A1": [list(bad.values())]})
    for row, (typed, name, letter) in enumerate(cases, 1):
        value = shown[f"H{row}"]
        if letter == "D":
            assert value == CellError("#DIV/0!"), typed
        else:
            assert isinstance(value, str) and value.startswith(f"#GRIT! {name} "), (typed, value)
            assert "blank" in value if letter == "A" else "must be" in value, (typed, value)
            if letter == "A":  # how to write a 0 is told where there may be one
                assert ("for a true 0 write" in value) == QUANTITIES[name].requirement.startswith(">= 0"), (typed, value)


def test_bad_cells_of_a_range_fail_alone(calc):
    shown = calc.type({"D1:D4": "{=GRIT_WORK_SPEED(A1:A4;150)}"}, {"A1": [[20], [None], ["x"], [-1]]})
    assert close(shown["D1"], catalogue["work_speed"].call(20, 150))
    assert [shown[f"D{row}"] for row in (2, 3, 4)] == [
        "#GRIT! work_diameter is blank",
        "#GRIT! work_diameter must be a number, > 0 mm (got 'x')",
        "#GRIT! work_diameter must be > 0 mm (got -1.0)",
    ]


def test_an_error_cell_in_a_range_makes_the_whole_an_error(calc):
    shown = calc.type({"D1:D2": "{=GRIT_WORK_SPEED(A1:A2;150)}", "D4": "=GRIT_KNEE(A1:A2;A1:A2)"}, {"A1": [[20], ["=1/0"]]})
    assert all(isinstance(value, CellError) for value in shown.values())


def test_a_blank_is_told_from_a_true_zero(calc):
    data = {"A1": [[None, 0, "flat", 0.5]]}
    side = "=GRIT_EQUIVALENT_DIAMETER(300;25;{})"
    idle = "=GRIT_NET_POWER(3;{})"
    shown = calc.type(
        {
            "A2": side.format("A1"),
            "A3": side.format("B1"),
            "A4": side.format("0"),
            "A5": side.format("C1"),
            "A6": side.format("D1"),
            "A7": idle.format("A1"),
            "A8": idle.format("B1"),
            "A9": idle.format("B1:B1"),
            "A10": idle.format("{0}"),
            "A11": idle.format("A1:A1"),
            "A12": "=GRIT_TANGENTIAL_FORCE(GRIT_NET_POWER(3;3);25)",
        },
        data,
    )
    refused = "#GRIT! idle_power is 0 or blank; for a true 0 write {0} or the cell as a range, such as B5:B5"
    assert list(shown.values()) == [
        "#GRIT! side is blank",
        300.0,
        300.0,
        "#GRIT! side must be a number, one of 1, 0, -1 (got 'flat')",
        "#GRIT! side must be one of 1, 0, -1 (got 0.5)",
        refused,
        refused,
        3.0,
        3.0,
        "#GRIT! idle_power is blank",
        0.0,
    ]


# --- the knee


def pairs(depths, energies):
    return {"A1": [list(pair) for pair in zip(depths, energies)]}


def knee_cells(calc, depths, energies):
    """What GRIT_KNEE and its kin show, by the end of their names, and the report's two columns."""
    last = len(depths)
    kinds = ["", "_LOW", "_HIGH", "_LEVEL", "_VERDICT"]
    typed = {f"D{row}": f"=GRIT_KNEE{kind}(A1:A{last};B1:B{last})" for row, kind in enumerate(kinds, 1)}
    typed[f"E1:F{REPORT_ROWS}"] = f"{{=GRIT_KNEE_REPORT(A1:A{last};B1:B{last})}}"
    shown = calc.type(typed, pairs(depths, energies))
    report = [(shown[f"E{row}"], shown[f"F{row}"]) for row in range(1, REPORT_ROWS + 1)]
    return {kind: shown[f"D{row}"] for row, kind in enumerate(kinds, 1)}, [row for row in report if row != ("", "")]


def test_the_knee_of_a_trial_equals_python(calc):
    knee = find_knee(DEPTHS, ENERGIES)
    assert knee.verdict == "found"
    shown, report = knee_cells(calc, DEPTHS, ENERGIES)
    assert shown["_VERDICT"] == "found"
    for kind, number in (("", knee.knee), ("_LOW", knee.low), ("_HIGH", knee.high), ("_LEVEL", knee.level)):
        assert close(shown[kind], number)
    assert report == knee.rows()


@pytest.mark.parametrize(
    "energies",
    [[90 - 40 * depth for depth in DEPTHS], [40.0] * len(DEPTHS), ENERGIES[::-1]],
    ids=["still falling", "already level", "rising"],
)
def test_without_a_knee_there_is_no_number(calc, energies):
    knee = find_knee(DEPTHS, energies)
    assert knee.verdict != "found"
    shown, report = knee_cells(calc, DEPTHS, energies)
    assert shown.pop("_VERDICT") == knee.verdict
    assert set(shown.values()) == {f"#GRIT! {knee.verdict}: {knee.advice}"}
    assert report == knee.rows()


def test_readings_still_blank_are_left_out_and_named(calc):
    """Blank readings, and readings that wait for a power, as a planned trial has them."""
    depths = DEPTHS[:3] + [0.85, None] + DEPTHS[3:] + [1.4, None]
    energies = ENERGIES[:3] + [None, 50.0] + ENERGIES[3:] + ["=GRIT_SPECIFIC_ENERGY(GRIT_NET_POWER(Z9;1);1;20)", None]
    shown, report = knee_cells(calc, depths, energies)
    assert close(shown[""], find_knee(DEPTHS, ENERGIES).knee)
    places = "cells 4, 5, 11 of the lists: no number in both; readings are counted without the blank cells"
    assert report[-1] == ("left out", places)


def test_a_text_among_the_readings_is_refused_with_its_place(calc):
    shown, report = knee_cells(calc, DEPTHS, ENERGIES[:4] + ["40,1"] + ENERGIES[5:])
    assert set(shown.values()) == {"#GRIT! energies, cell 5, must be a number or blank (got '40,1')"}
    assert report == [("#GRIT! energies, cell 5, must be a number or blank (got '40,1')", "")]


def test_lists_of_unequal_shape_are_refused(calc):
    assert calc.type({"D1": "=GRIT_KNEE(A1:A8;B1:B7)"}, pairs(DEPTHS, ENERGIES))["D1"] == (
        "#GRIT! depths and energies must be ranges of equal shape (got 8 x 1 and 7 x 1 cells)"
    )


# --- texts, names, files


def test_the_function_wizard_shows_every_text(calc):
    shown = calc.functions("GRIT_")
    assert set(shown) == {function.sheet_name for function in FUNCTIONS}
    for function in FUNCTIONS:
        text, arguments = shown[function.sheet_name]
        assert text == function.help and 0 < len(text) <= LONGEST_TEXT
        assert [argument[:2] for argument in arguments] == [(argument.name, argument.help) for argument in function.arguments]
        assert all(0 < len(argument[1]) <= LONGEST_TEXT for argument in arguments)


@pytest.mark.parametrize("ending", [".xlsx", ".ods"])
def test_files_keep_the_functions(calc, libreoffice, tmp_path, ending):
    path = tmp_path / f"sheet{ending}"
    typed = {
        "D1": "=GRIT_WORK_SPEED(A1;B1)",
        "D2": "=1+GRIT_WORK_SPEED(A1;B1)",
        "D3:D4": "{=GRIT_WORK_SPEED(A1:A2;B1:B2)}",
        "D5": "=GRIT_KNEE(A1:A2;B1:B2)",
    }
    shown = calc.type(typed, {"A1": [[20, 150], [30, 100]]}, save=path)
    (reloaded,) = calc.recalc(path).values()
    assert {place: reloaded[place] for place in shown} == shown
    stored = [text for text in stored_formulas(path) if calc_stored_name("GRIT_WORK_SPEED") + "(" in text]
    assert len(stored) == 3
    # on a machine without the extension: an error, never an old or wrong number
    (missing,) = libreoffice.recalc(path).values()
    assert all(missing[place] == CellError("#NAME?") for place in shown)
    # stored by that machine and brought back
    back = tmp_path / f"back{ending}"
    libreoffice.convert(path, back)
    assert any(f"{CALC_SERVICE}.grit_work_speed(".lower() in text for text in stored_formulas(back))
    (again,) = calc.recalc(back).values()
    assert {place: again[place] for place in shown} == shown


@pytest.mark.parametrize(
    "stored",
    [
        "GRIT_DEPTH",
        "grit_depth",
        "[1]!GRIT_DEPTH",
        "'C:\\a!b\\[x.xlsm]'!GRIT_DEPTH",
        "'it''s here!'!GRIT_DEPTH",
        "_xll.GRIT_DEPTH",
        "_xlfn.GRIT_DEPTH",
        "_xludf.grit_depth",
        "[2]!_xludf.GRIT_DEPTH",
        "ORG.GRITFUNCS.CELLS.GRIT_DEPTH",
        calc_stored_name("GRIT_DEPTH"),
        "org.gritfuncs.cells.grit_depth",
    ],
)
def test_every_stored_name_leads_back_to_the_sheet_name(stored):
    assert sheet_name(stored) == "GRIT_DEPTH"


@pytest.mark.parametrize("stored", ["A1", "_xlfn.LAMBDA", "org.gritfuncsXcells.GRIT_DEPTH", "xll.GRIT_DEPTH"])
def test_what_is_stored_under_another_name_is_none_of_ours(stored):
    assert sheet_name(stored) not in {function.sheet_name for function in FUNCTIONS}


def test_what_users_files_hold_stays_as_it_is():
    assert calc_stored_name("GRIT_DEPTH") == "ORG.GRITFUNCS.CELLS.GRIT_DEPTH" and CALC_SERVICE == "org.gritfuncs.Cells"
    assert IDENTIFIER == "org.gritfuncs.calc"  # by it a newer version takes the place of an older one


def test_a_removed_extension_leaves_nothing(extension):
    with LibreOffice([extension], removed=[IDENTIFIER]) as office:
        assert [f"Identifier: {IDENTIFIER}" in listed for listed in office.listed] == [True, False]
        left = [path for path in Path(office.profile).rglob("*") if path.is_file() and b"gritfuncs" in path.read_bytes()]
        assert left == []
        assert office.functions("GRIT_") == {}
        assert office.type({"A1": "=GRIT_WORK_SPEED(20;150)"})["A1"] == CellError("#NAME?")
