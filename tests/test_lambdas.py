"""LAMBDA names: computed in an engine that knows them, and put into workbooks without touching anything else."""

from __future__ import annotations

import html
import math
import re
import zipfile

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.workbook.defined_name import DefinedName
from setups import setups

from gritfuncs import __version__
from gritfuncs.addins.functions import FUNCTIONS
from gritfuncs.formulas import catalogue
from gritfuncs.share.names import NAMES, add_names, functions_left_out, lambda_names

NATIVE = [record for record in catalogue if record.native]
EVERY = pytest.mark.parametrize("record", NATIVE, ids=lambda record: record.name)


def computed(folder, *rows):
    """What a workbook's cells show: for each row of values and formulas the last one, after adding the names."""
    ironcalc = pytest.importorskip("ironcalc")
    book, named = folder / "book.xlsx", folder / "named.xlsx"
    named.unlink(missing_ok=True)
    workbook = openpyxl.Workbook()
    for row in rows:
        workbook.active.append(row)
    workbook.save(book)
    add_names(book, named)
    model = ironcalc.load_from_xlsx(str(named), "en", "UTC", "en")
    model.evaluate()
    return [model.get_cell_value(0, place, len(row)) for place, row in enumerate(rows, 1)]


def call(record, place):
    """The call of a formula whose arguments are the first cells of a row."""
    return f"={record.sheet_name}({','.join(f'{chr(65 + column)}{place}' for column in range(len(record.arguments)))})"


@EVERY
@settings(max_examples=5)
@given(data=st.data())
def test_the_name_gives_what_python_gives(record, data, tmp_path_factory):
    inputs = data.draw(st.lists(setups(record), min_size=5, max_size=10))
    rows = [[*(setup[q.name] for q in record.arguments), call(record, place)] for place, setup in enumerate(inputs, 1)]
    for shown, setup in zip(computed(tmp_path_factory.mktemp("book"), *rows), inputs):
        expected = record.call(**setup)
        assert shown == pytest.approx(expected, rel=1e-12, abs=1e-12 if record.name == "net_power" else 0)


@EVERY
@pytest.mark.parametrize("wrong", [None, "x", True, -3.5, "=1/0"])
def test_a_wrong_cell_is_never_computed_with(record, wrong, tmp_path):
    """Text, truth, blank and a value outside the limits give a text by name; an error stays that error."""
    right = [record.example[quantity.name] for quantity in record.arguments]
    rows = [[*right[:column], wrong, *right[column + 1 :], call(record, column + 1)] for column in range(len(right))]
    for quantity, shown in zip(record.arguments, computed(tmp_path, *rows)):
        if wrong == "=1/0":
            assert shown == "#DIV/0!"
        else:
            assert shown == f"#GRIT! {quantity.name} must be a number, {quantity.requirement}"


def test_limits_are_those_of_python(tmp_path):
    """Just inside and just outside: the upper limit of a fraction, zero where it is allowed, each side."""
    cases = [
        ("grit_density", (107, 100, 1.0), True), ("grit_density", (107, 100, 1.000001), False),
        ("grit_density", (107, 400, 0.5), True), ("grit_density", (107, 400.1, 0.5), False),
        ("tangential_force", (0, 25), True), ("tangential_force", (5e-324, 25), True), ("wheel_speed", (0, 5), False),
        ("equivalent_diameter", (40, 50, -1), True), ("equivalent_diameter", (40, 50, 0), True),
        ("equivalent_diameter", (40, 50, 0.5), False), ("equivalent_diameter", (50, 50, -1), False),
        ("equivalent_diameter", (60, 50, -1), False), ("equivalent_diameter", (60, 50, 1), True),
        ("net_power", (1.5, 1.5), True), ("net_power", (1.4, 1.5), False),
    ]  # fmt: skip
    rows = [[*values, call(catalogue[name], place)] for place, (name, values, _) in enumerate(cases, 1)]
    for (name, values, allowed), shown in zip(cases, computed(tmp_path, *rows)):
        try:
            expected = catalogue[name].call(*values)
        except ValueError:
            expected = None
        assert (expected is not None) == allowed
        assert shown == pytest.approx(expected) if allowed else shown.startswith("#GRIT! ")


def test_values_that_do_not_fit_together_are_named(tmp_path):
    (shown,) = computed(tmp_path, [50, 40, -1, call(catalogue["equivalent_diameter"], 1)])
    assert shown == "#GRIT! work_diameter must be > wheel_diameter for internal grinding, side -1"


def test_names_may_be_nested_and_version_is_told(tmp_path):
    nested = "=GRIT_CONTACT_LENGTH(GRIT_DEPTH_OF_CUT(A1,B1),GRIT_EQUIVALENT_DIAMETER(C1,D1,E1))"
    length, version = computed(tmp_path, [0.6, 150, 200, 20, 1, nested], ["=GRIT_VERSION()"])
    assert length == pytest.approx(math.sqrt(0.004 * 200 * 20 / 220), rel=1e-12)
    assert version == __version__


class TestText:
    @pytest.mark.parametrize("name", lambda_names())
    def test_within_the_limits_of_excel(self, name):
        held = lambda_names()[name]
        assert len(held.formula) <= 8000 and len(held.comment) <= 255
        assert all(len(text) <= 255 for text in re.findall(r'"([^"]*)"', held.formula))
        assert held.formula.count('"') % 2 == 0 and held.formula.count("(") == held.formula.count(")")

    @EVERY
    def test_holds_the_native_formula_of_the_catalogue(self, record):
        formula = lambda_names()[record.sheet_name].formula
        parameters = re.findall(r"_xlpm\.(\w+),", formula.partition("IF(")[0])
        text = record.text(**{q.name: f"_xlpm.{name}" for q, name in zip(record.arguments, parameters)})
        assert f",{text}," in formula

    @EVERY
    def test_no_parameter_is_the_name_of_a_function(self, record):
        """Whether the parameter or the name of the same spelling counts is not the same in every program."""
        used = {name.upper() for name in re.findall(r"_xlpm\.(\w+)", lambda_names()[record.sheet_name].formula)}
        assert used and not used & set(lambda_names())

    def test_every_function_has_a_name_or_is_left_out(self):
        assert {*lambda_names(), *functions_left_out()} == {function.sheet_name for function in FUNCTIONS}
        assert "GRIT_MEAN_SIZE" in functions_left_out() and "GRIT_KNEE" in functions_left_out()


def parts(path):
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def book_with(path, **names):
    """A workbook with names of its own."""
    workbook = openpyxl.Workbook()
    for name, text in names.items():
        workbook.defined_names[name] = DefinedName(name, attr_text=text)
    workbook.save(path)
    return path


def rewritten(path, change):
    """The same package with the text of its workbook part changed."""
    content = parts(path)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in content.items():
            archive.writestr(name, change(data.decode()).encode() if name == "xl/workbook.xml" else data)
    return path


class TestWorkbook:
    @pytest.fixture
    def output(self, tmp_path):
        return tmp_path / "named.xlsx"

    def test_every_other_part_stays_byte_for_byte(self, tmp_path, output):
        book = book_with(tmp_path / "book.xlsx", mine="Sheet!$A$1")
        before = book.read_bytes()
        assert add_names(book, output) == tuple(lambda_names())
        old, new = parts(book), parts(output)
        assert list(old) == list(new)
        assert [name for name in old if old[name] != new[name]] == ["xl/workbook.xml"]
        assert book.read_bytes() == before

    def test_names_and_comments_are_there_and_the_users_own_stay(self, tmp_path, output):
        add_names(book_with(tmp_path / "book.xlsx", mine="Sheet!$A$1", Other="Sheet!$B$2:$B$9"), output)
        found = openpyxl.load_workbook(output).defined_names
        assert found["mine"].attr_text == "Sheet!$A$1" and found["Other"].attr_text == "Sheet!$B$2:$B$9"
        for name, held in lambda_names().items():
            assert found[name].attr_text == held.formula and found[name].comment == held.comment
        assert len(found) == len(lambda_names()) + 2

    def test_the_workbook_is_computed_anew_on_load(self, tmp_path, output):
        add_names(rewritten(book_with(tmp_path / "book.xlsx"), lambda xml: re.sub("<calcPr[^>]*/>", "", xml)), output)
        assert re.search(r'<calcPr[^>]*fullCalcOnLoad="1"', parts(output)["xl/workbook.xml"].decode())

    @pytest.mark.parametrize("change", [
        lambda xml: re.sub("<definedNames.*</definedNames>|<definedNames ?/>", "", xml),
        lambda xml: re.sub("<definedNames.*</definedNames>|<definedNames ?/>", "<definedNames/>", xml),
        lambda xml: re.sub(r"<(/?)(?=\w)", r"<\1x:", xml.replace("xmlns=", "xmlns:x=")),
        lambda xml: xml.replace("<definedNames>", "<definedNames>\n  ").replace("</definedNames>", "\n</definedNames>"),
    ])  # fmt: skip
    def test_other_writers_of_workbooks(self, tmp_path, output, change):
        add_names(rewritten(book_with(tmp_path / "book.xlsx", mine="Sheet!$A$1"), change), output)
        assert set(lambda_names()) <= set(openpyxl.load_workbook(output).defined_names)

    def test_adding_again_changes_nothing_and_an_older_version_is_renewed(self, tmp_path, output):
        add_names(book_with(tmp_path / "book.xlsx", mine="Sheet!$A$1"), output)
        again = tmp_path / "again.xlsx"
        add_names(output, again)
        assert parts(again) == parts(output)
        old = html.escape("1000*_xlpm.infeed_rate/_xlpm.work_rpm", quote=False)
        rewritten(output, lambda xml: xml.replace(old, "999*_xlpm.infeed_rate/_xlpm.work_rpm").replace(__version__, "0.0.1"))
        renewed = tmp_path / "renewed.xlsx"
        add_names(output, renewed)
        assert parts(renewed) == parts(again) != parts(output)

    @pytest.mark.parametrize("name", ["GRIT_DEPTH", "grit_depth", "Grit_Version"])
    @pytest.mark.parametrize("text", ["Sheet!$A$1", "_xlfn.LAMBDA(_xlpm.x,_xlpm.x*2)"])
    def test_a_name_of_the_users_own_is_refused(self, tmp_path, output, name, text):
        book = book_with(tmp_path / "book.xlsx", **{name: text})
        with pytest.raises(ValueError, match=rf"book.xlsx: its own name {name} must be renamed first") as caught:
            add_names(book, output)
        assert text in str(caught.value) and not output.exists()

    def test_a_name_of_one_sheet_is_refused(self, tmp_path, output):
        workbook = openpyxl.Workbook()
        held = lambda_names()["GRIT_DEPTH"].formula
        workbook.active.defined_names["GRIT_DEPTH"] = DefinedName("GRIT_DEPTH", attr_text=held)
        workbook.save(tmp_path / "book.xlsx")
        with pytest.raises(ValueError, match="its own name GRIT_DEPTH must be renamed first"):
            add_names(tmp_path / "book.xlsx", output)

    def test_nothing_is_overwritten(self, tmp_path, output):
        book = book_with(tmp_path / "book.xlsx")
        output.write_text("mine")
        with pytest.raises(ValueError, match="named.xlsx: must not exist yet"):
            add_names(book, output)
        with pytest.raises(ValueError, match="book.xlsx: must not exist yet"):
            add_names(book, book)
        assert output.read_text() == "mine"

    @pytest.mark.parametrize("book, named", [("book.xlsx", "book (names).xlsx"), ("a.b.XLSX", "a.b (names).XLSX")])
    def test_without_an_output_it_stands_beside_the_book_and_says_what_has_no_name(self, tmp_path, book, named):
        book_with(tmp_path / "book.xlsx").rename(tmp_path / book)
        (said,) = NAMES.make(tmp_path / book, None)
        left_out = [function.sheet_name for function in FUNCTIONS if function.sheet_name not in lambda_names()]
        assert len(lambda_names()) == len(NATIVE) + 1  # the version
        assert said == f"{tmp_path / named}: {len(NATIVE) + 1} names; not among them: {', '.join(left_out)}"
        assert left_out[0] == "GRIT_MEAN_SIZE" and left_out[-1] == "GRIT_NEXT_RPM"
        assert {path.name for path in tmp_path.iterdir()} == {book, named}
        add_names(tmp_path / book, tmp_path / "other.xlsx")  # the ending in small letters is the same

    def test_of_a_long_name_of_the_users_own_the_beginning_is_told(self, tmp_path, output):
        text = "Sheet!$A$1+" * 9 + "1"
        with pytest.raises(ValueError) as caught:
            add_names(book_with(tmp_path / "book.xlsx", GRIT_DEPTH=text), output)
        assert str(caught.value).endswith(f"must be renamed first (it holds {text[:60]})")

    def test_a_name_that_only_looks_like_ours_is_left_alone(self, tmp_path, output):
        add_names(book_with(tmp_path / "book.xlsx", GRIT_DEPTH_OLD="Sheet!$A$1", MY_GRIT_DEPTH="Sheet!$A$2"), output)
        found = openpyxl.load_workbook(output).defined_names
        assert found["GRIT_DEPTH_OLD"].attr_text == "Sheet!$A$1" and found["MY_GRIT_DEPTH"].attr_text == "Sheet!$A$2"

    def test_the_kind_of_file_stays(self, tmp_path):
        with pytest.raises(ValueError, match="must end in .xlsx as the workbook does"):
            add_names(book_with(tmp_path / "book.xlsx"), tmp_path / "book.xlsm")

    def test_what_is_no_workbook(self, tmp_path, output):
        (tmp_path / "book.xlsx").write_text("text")
        with pytest.raises(ValueError, match="book.xlsx: must be an .xlsx or .xlsm file"):
            add_names(tmp_path / "book.xlsx", output)

    def test_comments_inside_the_list_stay(self, tmp_path, output):
        book = rewritten(
            book_with(tmp_path / "book.xlsx", mine="Sheet!$A$1"),
            lambda xml: xml.replace("<definedNames>", "<!-- <definedNames> --><definedNames><!-- x -->"),
        )
        add_names(book, output)
        assert "<!-- <definedNames> --><definedNames><!-- x -->" in parts(output)["xl/workbook.xml"].decode()
        assert set(openpyxl.load_workbook(output).defined_names) == {"mine", *lambda_names()}
