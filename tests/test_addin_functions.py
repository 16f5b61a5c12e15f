"""The cell functions without a spreadsheet program: ranges that fit together, and what the hosts hand over in place of numbers."""

from __future__ import annotations

import re
import zipfile
from dataclasses import FrozenInstanceError
from pathlib import Path
from xml.etree import ElementTree

import pytest

from gritfuncs import __version__
from gritfuncs.addins import excel
from gritfuncs.addins.calc import build_oxt
from gritfuncs.addins.check import excel_state
from gritfuncs.addins.functions import FUNCTIONS, ErrorCell
from gritfuncs.formulas import catalogue
from gritfuncs.knee import VERDICTS
from gritfuncs.quantities import QUANTITIES

CUT = next(function for function in FUNCTIONS if function.sheet_name == "GRIT_DEPTH_OF_CUT").call  # of infeed rate and rpm
DESCRIPTION = "{http://openoffice.org/extensions/description/2006}"
MANIFEST = "{http://openoffice.org/2001/manifest}"
OOR = "{http://openoffice.org/2001/registry}"
XML_LANG = "{http://www.w3.org/XML/1998/namespace}lang"
# Of Microsoft's list of cell error values (xlCVError and the later ones); Excel hands a value n over as 0x800A0000 + n, signed.
FIRST_ERROR = 0x800A0000 - 2**32
NUMBERED = {
    2043: "#GETTING_DATA",
    2045: "#SPILL!",
    2046: "#CONNECT!",
    2047: "#BLOCKED!",
    2048: "#UNKNOWN!",
    2049: "#FIELD!",
    2050: "#CALC!",
}


@pytest.mark.parametrize(
    "rates, rpms, shape",
    [
        (0.6, [[100], [150], [200]], (3, 1)),
        ([[0.3], [0.6], [0.9]], [[100, 150]], (3, 2)),
        ([[0.3, 0.6], [0.6, 0.9]], [[100], [150]], (2, 2)),
        ([[0.3, 0.6]], [[100, 150]], (1, 2)),
    ],
)
def test_one_cell_a_row_or_a_column_serves_the_others(rates, rpms, shape):
    got = CUT(rates, rpms)
    assert (len(got), len(got[0])) == shape
    assert got[-1][-1] == 1000 * (rates[-1][-1] if isinstance(rates, list) else rates) / rpms[-1][-1]


@pytest.mark.parametrize(
    "rates, rpms",
    [
        ([[0.3], [0.6]], [[100], [150], [200]]),  # its columns fit
        ([[0.3, 0.6]], [[100, 150, 200]]),  # its rows fit
        ([[0.3, 0.6]], [[100, 150, 200], [100, 150, 200]]),
    ],
)
def test_ranges_that_do_not_fit_are_no_numbers(rates, rpms):
    got = CUT(rates, rpms)
    told = f"(got {len(rates)} rows and {len(rates[0])} columns)"
    assert got.startswith("#GRIT! infeed_rate must be one cell or a range that fits ") and got.endswith(told)


@pytest.mark.parametrize("number, word", NUMBERED.items())
def test_later_errors_of_excel_are_named(number, word):
    assert excel._plain(FIRST_ERROR + number) == ErrorCell(word)
    assert excel._plain(float(FIRST_ERROR + number)) == FIRST_ERROR + number  # a number in a cell is a float


def test_the_errors_of_excel_end_where_they_end():
    for number, is_error in ((-1, False), (0, True), (2999, True), (3000, False)):
        assert isinstance(excel._plain(FIRST_ERROR + number), ErrorCell) == is_error


@pytest.fixture(scope="module")
def extension(tmp_path_factory):
    """What LibreOffice reads of the extension, by the name of the file."""
    with zipfile.ZipFile(build_oxt(tmp_path_factory.mktemp("calc") / "x.oxt")) as archive:
        yield archive


def test_the_files_of_the_extension_are_packed_and_can_be_read_by_all(extension):
    entries = extension.infolist()
    assert {entry.external_attr >> 16 & 0o777 for entry in entries} == {0o644}
    assert sum(entry.compress_size for entry in entries) < sum(entry.file_size for entry in entries) / 2


def test_the_extension_manager_shows_its_name_and_version(extension):
    (name,) = ElementTree.fromstring(extension.read("description.xml")).iter(f"{DESCRIPTION}name")
    assert name.text.startswith("gritfuncs: ") and name.get("lang") == "en"
    versions = [
        entry.get("value") for entry in ElementTree.fromstring(extension.read("description.xml")).iter(f"{DESCRIPTION}version")
    ]
    assert versions == [__version__]


def test_each_file_that_the_extension_is_made_of_is_there(extension):
    entries = ElementTree.fromstring(extension.read("META-INF/manifest.xml"))
    named = [entry.get(f"{MANIFEST}full-path") for entry in entries]
    assert len(named) == 3 and set(named) <= set(extension.namelist())


def test_the_function_wizard_has_each_function_and_its_inputs_under_its_name(extension):
    """In the category that the page names, and in English whatever the language of LibreOffice."""
    top = ElementTree.fromstring(extension.read("CalcAddIns.xcu"))
    shown = top.find(".//node[@{0}name='AddInFunctions']".replace("{0}", OOR))
    assert [node.get(f"{OOR}name") for node in shown] == [function.sheet_name for function in FUNCTIONS]
    page = (Path(__file__).parents[1] / "docs" / "calc.md").read_text(encoding="utf-8")
    for node, function in zip(shown, FUNCTIONS):
        told = {prop.get(f"{OOR}name"): prop[0].text for prop in node.findall("prop")}
        category = told.pop("Category")
        assert f"category *{category}*" in page.replace("Add-in", "Add-In")
        assert told == {
            "DisplayName": function.sheet_name,
            "Description": function.help,
            "CompatibilityName": function.sheet_name,
        }
        inputs = [[prop[0].text for prop in parameter] for parameter in node.find("node")]
        assert inputs == [[argument.name, argument.help] for argument in function.arguments]
        assert {value.get(XML_LANG) for value in node.iter("value")} == {"en", None}


def test_calc_hands_lists_over_as_rows_numbers_as_they_are_and_choices_as_texts(extension):
    """A choice, of which 0 is one, comes as a text, because Calc makes a 0 of a blank cell otherwise."""
    methods = re.findall(r"^ +(.+) (GRIT_\w+)\((.*)\);$", extension.read("cells.idl").decode(), re.MULTILINE)
    rows = "sequence< sequence< any > >"
    inputs = {name: re.findall(r"\[in\] (.+?) (\w+)(?:,| $)", given) for _, name, given in methods}
    gives = {name: given for given, name, _ in methods}
    choices = {quantity.name.upper() for quantity in QUANTITIES.values() if quantity.choices}
    assert choices and set(gives) == {function.sheet_name for function in FUNCTIONS}
    for function in FUNCTIONS:
        name = function.sheet_name
        if name in {record.sheet_name for record in catalogue}:
            assert gives[name] == rows  # of one cell, or as many as its inputs have
            assert all(kind == ("string" if word in choices else "any") for kind, word in inputs[name])
        else:
            assert gives[name] == (rows if name == "GRIT_KNEE_REPORT" else "any")
            assert all(kind == rows for kind, _ in inputs[name])
        assert [word for _, word in inputs[name]] == [argument.name.upper() for argument in function.arguments]


def test_a_cell_that_comes_as_a_range_of_one_is_that_cell():
    """So a host hands over an argument that may be a range."""
    next_rpm = next(function for function in FUNCTIONS if function.sheet_name == "GRIT_NEXT_RPM").call
    lists = ([[120.0], [132.0], [108.0]], [[1.2], [1.15], [1.3]])
    given = (120.0, 20.0, 400.0, "no")
    single = next_rpm(*lists, *given)
    assert isinstance(single, float) and next_rpm(*lists, *([[value]] for value in given)) == single
    assert "nominal_rpm must be one cell (got 1 x 2 cells)" in next_rpm(*lists, [[120.0, 130.0]], *given[1:])


def test_every_verdict_is_named_in_the_help_of_its_function():
    helps = next(function for function in FUNCTIONS if function.sheet_name == "GRIT_KNEE_VERDICT").help
    assert all(verdict in helps for verdict in VERDICTS)


@pytest.mark.parametrize("formula", list(catalogue), ids=lambda formula: formula.name)
def test_the_help_of_a_formula_names_it_and_what_it_gives_within_what_excel_takes(formula):
    function = next(function for function in FUNCTIONS if function.sheet_name == formula.sheet_name)
    unit = "" if formula.gives.unit == "-" else f", {formula.gives.unit}"
    assert function.help.startswith(formula.title) and f"Gives {formula.gives.label}{unit}." in function.help
    assert len(function.help) <= 255


@pytest.mark.parametrize("name, said", [("Darwin", "this is Darwin"), ("", "this is linux")])
def test_what_is_ready_for_excel_names_the_system(name, said, monkeypatch):
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setattr("platform.system", lambda: name)
    assert said in excel_state().found


def test_a_function_and_its_arguments_stay_as_they_are_listed():
    for listed in (FUNCTIONS[0], FUNCTIONS[0].arguments[0]):
        with pytest.raises(FrozenInstanceError):
            listed.help = ""
