"""What `share` tells of what it did, and how much it takes: each part of its report, its limits, and what it cannot do, by name."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.utils import quote_sheetname
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.formula import ArrayFormula
from openpyxl.worksheet.table import Table
from share_books import replace_in, stored
from test_share import DEPTHS, ENERGIES, call, knee_book, one_line
from test_share_strangers import SHEET, book_with, table_book

from gritfuncs.share import calls, job, sites
from gritfuncs.share.added_sheet import _cell as cell_of
from gritfuncs.share.job import Difference, Left, Replaced, Shared, share
from gritfuncs.share.knee_cells import knee_cells
from gritfuncs.sheets.words import CAUTIONS
from gritfuncs.spreadsheets import package, stored_cells
from gritfuncs.spreadsheets.cell_values import CellError
from gritfuncs.spreadsheets.package import read_package
from gritfuncs.workbooks.blocks.knee import MOST_ROWS

SHARING = Path(__file__).resolve().parent.parent / "docs" / "sharing.md"
NOTHING = Shared("a.xlsx", None, "native", (), (), (), (), 0, (), ())


def sections(shared):
    """The report without its last words, by paragraphs."""
    return shared.report().partition(CAUTIONS[0][:40])[0].strip().split("\n\n")


@pytest.mark.parametrize("text, kept", [("of the level ", True), (" to look at", True), ("found", False)])
def test_blanks_about_a_text_on_an_added_sheet_are_kept(text, kept):
    """Programs take them away where the file does not say that they count (ECMA-376, xml:space)."""
    assert ('<v xml:space="preserve">' in cell_of("A1", "=B1", text)) is kept


class TestReport:
    def test_where_nothing_was_done_nothing_more_is_said(self):
        assert sections(NOTHING) == ["a.xlsx: nothing could be replaced, nothing was written"]
        assert " ".join(NOTHING.report().split()).endswith(CAUTIONS[0])

    def test_each_part_is_said_with_its_number_and_its_cells(self):
        shared = replace(
            NOTHING,
            output="b.xlsx",
            replaced=(Replaced("S!C1", "=GRIT_X(A1)", "=A1*2"), Replaced("S!C2", "=GRIT_Y(A2)", "=A2*3")),
            left=(Left("S!D1", "=GRIT_Z()", "no such function"),),
            refused=(Difference("S!E1", "#GRIT! a is blank", 0.5),),
            differences=(Difference("S!F1", 1.0, True), Difference("S!F2", 1.5, None), Difference("S!F3", "", 2.0)),
            equal=7,
            unchecked=("S!G1", "S!G2", "S!H9"),
            notes=("A note.",),
        )
        first, replaced, left, refused, differences, last = sections(shared)
        assert first == "a.xlsx -> b.xlsx"
        assert [line.split() for line in replaced.splitlines()[2:]] == [
            ["S!C1", "=GRIT_X(A1)", "=A1*2"],
            ["S!C2", "=GRIT_Y(A2)", "=A2*3"],
        ]
        assert replaced.startswith("Replaced: 2\n") and replaced.splitlines()[1].split() == ["cell", "before", "after"]
        assert left.startswith("Not replaced: 1. Without gritfuncs these show #NAME? as soon as they are computed.\n")
        assert left.splitlines()[-1].split(maxsplit=2) == ["S!D1", "=GRIT_Z()", "no such function"]
        assert " ".join(refused.split()).startswith(
            "Refused by the function: 1. The native formula shows an error there, or a number not to be used. cell stored native"
        )
        assert refused.splitlines()[-1].split()[0] == "S!E1"
        assert differences.startswith("Other value than stored: 3. These change when the workbook is computed.")
        assert [line.split(maxsplit=2)[1:] for line in differences.splitlines()[2:]] == [
            ["1", "TRUE"],
            ["1.5", "not known here"],
            ["(empty)", "2"],
        ]
        assert last.splitlines() == [
            "Checked: 7 cells give their stored value to 1e-9.",
            "Not checked, for want of a stored value or of a function here: S!G1:G2, 2 cells, S!H9.",
            "Native formulas take a blank for 0 and know no limits: look at the inputs first.",
            "A note.",
        ]

    def test_a_respelled_copy_is_not_said_to_be_checked(self):
        shared = replace(NOTHING, output="b.xlsx", to="calc", replaced=(Replaced("S!C1", "=A", "=B"),))
        assert "Checked" not in shared.report() and "Native formulas" not in shared.report()

    def test_of_many_cells_twenty_are_named(self):
        places = tuple(f"S!{column}{row}" for row in (1, 3, 5) for column in "ABCDEFGH")[:22]
        for count, end in ((20, places[19] + "."), (21, f"{places[19]} and 1 more."), (22, f"{places[19]} and 2 more.")):
            shared = replace(NOTHING, output="b.xlsx", replaced=(Replaced("S!Z1", "=A", "=B"),), unchecked=places[:count])
            assert f", {end} Native formulas" in " ".join(shared.report().split())

    def test_a_line_is_as_wide_as_a_hundred_columns_and_then_parted(self):
        for before, lines in (("=" + "A" * 62, 2), ("=" + "A" * 63, 3)):
            rows = job.table(("cell", "before", "after"), [Replaced("S!C1", before, "=" + "B" * 26)])
            assert len(rows) == lines and max(map(len, rows)) <= 100

    @pytest.mark.parametrize("left, differences, complete", [(0, 0, True), (1, 0, False), (0, 1, False)])
    @pytest.mark.parametrize("refused", [0, 1])  # is no number before either
    def test_it_is_complete_where_all_was_replaced_and_nothing_changes(self, left, differences, complete, refused):
        shared = replace(
            NOTHING,
            left=(Left("", "", ""),) * left,
            differences=(Difference("", 1, 2),) * differences,
            refused=(Difference("", "#GRIT! a is blank", 0.0),) * refused,
        )
        assert shared.complete is complete


class TestHowMuchItTakes:
    def test_the_limits_are_those_of_the_document(self):
        """That they are kept is tested where they are lowered."""
        said = SHARING.read_text(encoding="utf-8").partition("| a workbook may have | at most |")[2].partition("\n\n")[0]
        rows = re.findall(r"^\| (.+?) \| ([\d,]+)(?: MB)? \|$", said, re.MULTILINE)
        assert {what: int(most.replace(",", "")) for what, most in rows} == {
            "cells that show a function of gritfuncs": sites.MOST_CELLS,
            "cells with a knee": job.MOST_KNEES,
            "filled cells on a sheet": stored_cells.MOST_CELLS,
            "size of the file, and of what is packed in it": package.LARGEST_PACKAGE / 1e6,
            "characters of a formula": calls.LONGEST_FORMULA,
            "readings of a knee": MOST_ROWS,
        }

    def test_a_formula_that_grows_too_long_on_its_way_down_is_left_where_it_is(self, tmp_path):
        """Row 9 has room for it, row 10 with its longer addresses has none."""

        def text(row, ones):
            return "+".join([f"GRIT_DEPTH(A{row},B{row},A{row},B{row},A{row},B{row})"] * 60 + ["1"] * ones)

        def shared(ones):
            workbook = Workbook()
            for row in (9, 10):
                workbook.active[f"A{row}"], workbook.active[f"B{row}"], workbook.active[f"C{row}"] = (
                    20,
                    150,
                    f"={text(row, ones)}",
                )
            path = tmp_path / f"{ones}.xlsx"
            return share(stored(workbook, path))

        length = len(shared(0).replaced[0].after) - 1
        grown = shared((calls.LONGEST_FORMULA - length) // 2)
        assert [each.place for each in grown.replaced] == ["Sheet!C9"]
        assert [(each.place, "8192" in each.reason) for each in grown.left] == [("Sheet!C10", True)]


def test_each_step_of_a_knee_is_labelled_with_the_reading_that_it_is_of():
    """Below the list a column of the block follows the other, with a row before the readings and one after them."""
    cells = knee_cells(4, 1)
    (first,) = [row for row, label in cells.labels.items() if label == "reading no.: reading 1"]
    steps = {row: label.rpartition(": ") for row, label in cells.labels.items() if row >= first}
    said = {1: "reading 1", 2: "reading 2", 3: "reading 3", 4: "reading 4", 5: "after the last", 0: "before the first"}
    assert [cells.numbers[row] for row, (what, _, _) in steps.items() if what == "reading no."] == [1, 2, 3, 4]
    assert {row: of for row, (_, _, of) in steps.items()} == {row: said[(row - first + 1) % 6] for row in steps}
    assert cells.length == max(steps)


@pytest.mark.parametrize("word", ["0", "false"])
def test_a_workbook_that_computes_as_shown_says_so_in_either_word(word, tmp_path):
    path = book_with(
        tmp_path / "book.xlsx",
        "GRIT_WORK_SPEED(A1,B1)",
        9.42,
        lambda package: replace_in(package, "xl/workbook.xml", "<calcPr ", f'<calcPr fullPrecision="{word}" '),
    )
    assert share(path).unchecked == ("Sheet!C1",)


def test_the_cells_of_an_array_formula_beyond_its_values_show_the_error_that_they_had(tmp_path):
    workbook = Workbook()
    for row in (1, 2):
        workbook.active.append([20 * row, 150])
    workbook.active["C1"] = ArrayFormula("C1:C3", "=GRIT_WORK_SPEED(A1:A2,B1)")
    speeds = [call("GRIT_WORK_SPEED", 20 * row, 150) for row in (1, 2)]

    def edit(package):
        replace_in(package, SHEET, "</row></sheetData>", '</row><row r="3"><c r="C3" t="e"><v>#N/A</v></c></row></sheetData>')

    shared = share(stored(workbook, tmp_path / "book.xlsx", {"Sheet": {"C1": speeds[0], "C2": speeds[1]}}, edit))
    assert shared.complete and shared.equal + len(shared.unchecked) == 3 and "Sheet!C3" not in shared.unchecked, shared.report()


@pytest.mark.parametrize("cells, taken", [("$A$1:$A$8", True), ("$A$1:$A8", False), ("$A1:$A8", False), ("A1:A8", False)])
def test_a_name_gives_a_knee_only_where_its_cells_stay_in_their_place(cells, taken, tmp_path):
    path, _ = knee_book(tmp_path / "knee.xlsx", DEPTHS, ENERGIES)
    book = load_workbook(path)
    sheet = quote_sheetname(book.sheetnames[0])
    energies = cells.replace("A", "B")
    book.defined_names["our_knee"] = DefinedName("our_knee", attr_text=f"GRIT_KNEE({sheet}!{cells},{sheet}!{energies})")
    book.save(path)
    shared = share(path)
    reasons = [each.reason for each in shared.left if each.place == "name our_knee"]
    assert ("name our_knee" in {each.place for each in shared.replaced}) is taken
    assert bool(reasons) is not taken and all("such as $A$2:$A$12" in reason for reason in reasons)


def test_a_name_that_gives_a_knee_must_name_the_sheet_of_its_readings(tmp_path):
    path, _ = knee_book(tmp_path / "knee.xlsx", DEPTHS, ENERGIES)
    book = load_workbook(path)
    book.defined_names["our_knee"] = DefinedName("our_knee", attr_text="GRIT_KNEE($A$1:$A$8,$B$1:$B$8)")
    book.save(path)
    assert [each.reason for each in share(path).left if each.place == "name our_knee"] == ["depths must name its sheet"]


def test_a_name_gives_the_knee_of_a_table(tmp_path):
    def more(package):
        name = "<definedName name=\"our_knee\">GRIT_KNEE(Trial[depth '[µm']],Trial[energy])</definedName></definedNames>"
        replace_in(package, "xl/workbook.xml", "</definedNames>", name)

    shared = share(table_book(tmp_path / "book.xlsx", ["1+1"], edit=more))
    assert [each.place for each in shared.replaced] == ["name our_knee"] and not shared.left


def test_the_knee_of_a_row_of_a_table_is_that_of_its_row(tmp_path):
    """Eight depths and the eight energies beside them in each row."""
    workbook = Workbook()
    sheet = workbook.active
    sheet.append([f"{kind}{number}" for kind in "de" for number in range(1, 9)] + ["knee"])
    others = [energy + 10 * depth for depth, energy in zip(DEPTHS, ENERGIES)]
    for energies in (ENERGIES, others):
        sheet.append([*DEPTHS, *energies, "=GRIT_KNEE(Trial[[#This Row],[d1]:[d8]],Trial[[#This Row],[e1]:[e8]])"])
    sheet.add_table(Table(displayName="Trial", ref="A1:Q3"))
    knees = [call("GRIT_KNEE", (DEPTHS,), (energies,)) for energies in (ENERGIES, others)]
    assert isinstance(knees[0], float) and isinstance(knees[1], float) and knees[0] != knees[1]
    shared = share(stored(workbook, tmp_path / "book.xlsx", {"Sheet": {"Q2": knees[0], "Q3": knees[1]}}))
    assert len(shared.replaced) == 2 and shared.equal == 2, shared.report()


def test_what_is_put_in_besides_formulas_is_said(tmp_path):
    path, _ = knee_book(tmp_path / "knee.xlsx", DEPTHS, ENERGIES)
    notes = share(path).notes
    (frozen,) = (note for note in notes if "frozen" in note)
    assert re.fullmatch(
        r"A trial's readings!F1:G\d+: the report is frozen, as it was; when the readings change it says that it is out of date\.",
        frozen,
    )
    assert "The sheet 'gritfuncs' was added: it computes what does not fit into one formula." in notes


@pytest.mark.parametrize("to, kind", [("native", "shared"), ("calc", "for Calc"), ("excel", "for Excel")])
@pytest.mark.parametrize("ending", [".xlsx", ".xlsm", ".XLSM"])
def test_the_copy_stands_beside_the_book_and_says_what_it_is_for(tmp_path, to, kind, ending):
    text = "org.gritfuncs.cells.grit_work_speed(A1,B1)" if to == "excel" else "GRIT_WORK_SPEED(A1,B1)"
    path = book_with(tmp_path / "my.book.xlsx", text).rename(tmp_path / f"my.book{ending}")
    assert share(path, to=to).output == str(tmp_path / f"my.book ({kind}){ending}")


def test_what_travels_along_is_said_in_whole(tmp_path):
    """Whatever the letters that the parts are named in."""

    def edit(package):
        package.parts["XL/VBAPROJECT.BIN"] = b"x"
        package.parts["XL/externallinks/Link1.XML"] = b"<a/>"
        package.parts["xl/Connections.xml"] = b"<a/>"
        package.parts["_XMLsignatures/sig1.xml"] = b"<a/>"

    assert share(book_with(tmp_path / "book.xlsm", "GRIT_WORK_SPEED(A1,B1)", edit=edit)).notes == (
        "Macros travel along: they are in the copy as they were.",
        "Links to other workbooks travel along: 1, with the values they last had.",
        "Data connections travel along.",
        "The digital signature travels along and no longer holds.",
    )


@pytest.mark.parametrize("most, taken", [(1, False), (2, True)])
def test_each_cell_that_a_knee_fills_is_counted(tmp_path, monkeypatch, most, taken):
    monkeypatch.setattr(job, "MOST_KNEES", most)

    def edit(package):
        replace_in(package, SHEET, "<f>GRIT", '<f t="array" ref="C1:C2">GRIT')

    path = book_with(tmp_path / "book.xlsx", "GRIT_KNEE(A1:A8,B1:B8)", edit=edit)
    if taken:
        assert len(share(path).replaced) == 1
    else:
        with pytest.raises(ValueError, match=r"must have at most 1 cells with a knee \(got 2\)$"):
            share(path)


def test_a_workbook_without_a_function_is_one_line(tmp_path):
    with pytest.raises(ValueError) as error:
        share(book_with(tmp_path / "book.xlsx", "A1+B1", 170.0))
    assert one_line(error).endswith("must have a function of gritfuncs in a formula (got none)")


def test_a_formula_may_be_as_long_as_spreadsheets_take(tmp_path):
    def shared(length):
        call_, pad = "GRIT_WORK_SPEED(A1,B1)", "+1"
        text = call_ + pad * ((length - len(call_)) // 2) + " " * (length % 2)
        assert len(text) == length
        return share(book_with(tmp_path / f"{length}.xlsx", text, 1.0))

    assert not shared(calls.LONGEST_FORMULA).left
    (left,) = shared(calls.LONGEST_FORMULA + 1).left
    assert left.reason == "formulas must have at most 8192 characters (got 8193)"


def test_a_cell_that_shows_no_function_has_the_copy_computed_when_it_is_opened(tmp_path):
    path = book_with(tmp_path / "book.xlsx", "GRIT_WORK_SPEED(A1,B1)", CellError("#NAME?"))
    shared = share(path)
    assert shared.unchecked == ("Sheet!C1",) and shared.complete
    assert "Some cells had no value stored: spreadsheet programs compute the copy when they open it." in shared.notes
    assert 'fullCalcOnLoad="1"' in read_package(shared.output).text("xl/workbook.xml")
    told = share(book_with(tmp_path / "other.xlsx", "GRIT_WORK_SPEED(A1,B1)"))
    assert "fullCalcOnLoad" not in read_package(told.output).text("xl/workbook.xml") and not told.notes


class TestFilledOverSeveralCells:
    """A shared formula: its text stands in one cell, the others have its number alone."""

    def shared(self, tmp_path, texts, reference, values=None):
        """The first of the texts, {address: formula}, is the one that is written."""
        workbook = Workbook()
        for pair in zip(DEPTHS, ENERGIES):
            workbook.active.append(pair)
        workbook.create_sheet("Other")
        for name, column in (("depths", "A"), ("energies", "B")):
            workbook.active.defined_names[name] = DefinedName(name, attr_text=f"Sheet!${column}$1:${column}$8")
        for address, text in texts.items():
            workbook.active[address] = f"={text}"
        head, *others = texts

        def fill(package):
            for address, text in texts.items():
                new = f'<f t="shared" ref="{reference}" si="0">{text}</f>' if address == head else '<f t="shared" si="0"/>'
                replace_in(package, SHEET, f"<f>{text}</f>", new)

        return share(stored(workbook, tmp_path / "book.xlsx", {"Sheet": values or {}}, fill))

    def test_knees_by_the_names_of_another_sheet_are_left_with_what_to_do(self, tmp_path):
        texts = {"D1": "GRIT_KNEE(Sheet!depths,Sheet!energies)+0", "D2": "GRIT_KNEE(Sheet!depths,Sheet!energies)+0*1"}
        (left,) = self.shared(tmp_path, texts, "D1:D2").left
        assert left.place == "Sheet!D1" and left.reason == "type it into each cell: it was filled over several"
        (tmp_path / "alone").mkdir()
        (left,) = self.shared(tmp_path / "alone", {"D1": texts["D1"]}, "D1:D1").left  # filled over its own cell only
        assert left.place == "Sheet!D1" and "there is no name" in left.reason

    def test_knees_by_cells_of_another_sheet_are_replaced_each(self, tmp_path):
        texts = {"D1": "GRIT_KNEE(Sheet!A$1:A$8,Sheet!B$1:B$8)", "D2": "GRIT_KNEE(Sheet!A$1:A$8,Sheet!B$1:B$8)+0"}
        shared = self.shared(tmp_path, texts, "D1:D2")
        assert [each.place for each in shared.replaced] == ["Sheet!D1", "Sheet!D2"] and not shared.left

    def test_of_knees_filled_down_one_that_stays_keeps_a_formula_of_its_own(self, tmp_path):
        """There are no readings yet for the second, and the text that it was filled down from is gone."""
        texts = {"D1": "GRIT_KNEE(A1:A8,B1:B8)", "D9": "GRIT_KNEE(A9:A16,B9:B16)"}
        shared = self.shared(tmp_path, texts, "D1:D9")
        assert [each.place for each in shared.replaced] == ["Sheet!D1"]
        assert [(each.place, each.formula) for each in shared.left] == [("Sheet!D9", f"={texts['D9']}")]
        sheet = load_workbook(shared.output)["Sheet"]
        assert sheet["D9"].value == f"={texts['D9']}" and "GRIT" not in sheet["D1"].value.replace("gritfuncs!", "")

    def test_a_cell_whose_formula_would_leave_the_sheet_is_told_by_the_first(self, tmp_path):
        shared = self.shared(tmp_path, {"D1": "GRIT_WORK_SPEED(A1,B1)", "C2": "GRIT_WORK_SPEED(A2,B2)"}, "C1:D2")
        assert [(each.place, each.before) for each in shared.replaced] == [
            ("Sheet!D1", "=GRIT_WORK_SPEED(A1,B1)"),
            ("Sheet!C2", "=GRIT_WORK_SPEED(A1,B1), as in D1"),
        ]
        assert "Sheet!C2" in shared.unchecked


def test_an_array_formula_over_more_cells_than_are_taken_is_refused_at_once(tmp_path):
    def edit(package):
        replace_in(package, SHEET, "<f>GRIT", '<f t="array" ref="A1:XFD1048576">GRIT')

    path = book_with(tmp_path / "book.xlsx", "GRIT_WORK_SPEED(A1,B1)", edit=edit)
    with pytest.raises(ValueError) as error:
        share(path)
    assert one_line(error) == (
        f"{path}: must have at most 100000 cells that show a function (got an array formula that fills A1:XFD1048576)"
    )


@pytest.mark.parametrize("first_is_many", [False, True])
def test_a_name_of_the_sheet_goes_before_that_of_the_workbook(tmp_path, first_is_many):
    """The same formula stands in the same cell of two sheets, and the name means several cells on one of them alone."""
    workbook = Workbook()
    workbook.active.title = "First"
    workbook.create_sheet("Second")
    for sheet in workbook:
        sheet.append([20, 150, "=GRIT_WORK_SPEED(diameter,B1)"])
    many, single = "First!$A$1:$A$3", "First!$A$1"
    of_all, of_first = (single, many) if first_is_many else (many, single)
    workbook.defined_names["diameter"] = DefinedName("diameter", attr_text=of_all)
    workbook["First"].defined_names["diameter"] = DefinedName("diameter", attr_text=of_first)
    shared = share(stored(workbook, tmp_path / "book.xlsx"))
    places = ["Second!C1", "First!C1"] if first_is_many else ["First!C1", "Second!C1"]
    assert [each.place for each in (*shared.replaced, *shared.left)] == places
    assert "work_diameter is a range" in shared.left[0].reason


@pytest.mark.parametrize("array", ["C1", "C2"])
def test_of_two_formulas_alike_only_that_of_an_array_takes_ranges(tmp_path, array):
    workbook = Workbook()
    for row in (1, 2, 3, 4):
        workbook.active.append([10 * row, 150])
    for row in (1, 2):
        workbook.active[f"C{row}"] = f"=SUM(GRIT_WORK_SPEED(A{row}:A{row + 2},B{row}))"

    def edit(package):
        text = package.text(SHEET)
        start = text.index("<f>", text.index(f'r="{array}"'))
        package.parts[SHEET] = (text[:start] + f'<f t="array" ref="{array}">' + text[start + 3 :]).encode()

    speeds = [call("GRIT_WORK_SPEED", 10 * row, 150) for row in (1, 2, 3, 4)]
    values = {"C1": sum(speeds[:3]), "C2": sum(speeds[1:])}
    shared = share(stored(workbook, tmp_path / "book.xlsx", {"Sheet": values}, edit))
    assert [each.place for each in shared.replaced] == [f"Sheet!{array}"]
    assert [each.place for each in shared.left] == ["Sheet!C2" if array == "C1" else "Sheet!C1"]


def test_an_array_formula_whose_cells_are_not_told_is_that_of_its_own_cell(tmp_path):
    def edit(package):
        replace_in(package, SHEET, "<f>GRIT", '<f t="array" ref="none">GRIT')

    shared = share(book_with(tmp_path / "book.xlsx", "GRIT_WORK_SPEED(A1,B1)", edit=edit))
    assert shared.equal == 1 and shared.complete, shared.report()
