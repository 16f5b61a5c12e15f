"""Which cells a reference to a table means, as spreadsheets have it: columns, rows of headings, data and totals, this row."""

from __future__ import annotations

import pytest
from openpyxl import Workbook
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.table import Table, TableFormula
from share_books import replace_in, stored
from test_share import call

from gritfuncs.share.job import share
from gritfuncs.share.tables import Tables, absolute
from gritfuncs.spreadsheets.package import read_package


@pytest.fixture(scope="module")
def tables(tmp_path_factory):
    """A table in B2:E8 of the second sheet, with headings and a row of totals, and one without headings in B12:C13."""
    workbook = Workbook()
    sheet = workbook.create_sheet("Shop 1")
    sheet["B2"], sheet["C2"], sheet["D2"], sheet["E2"] = "Depth", "energy [J]", "n", "#1"
    sheet["B12"] = 1
    table = Table(displayName="Trial", name="Trial", ref="B2:E8", totalsRowCount=1)
    table._initialise_columns()
    for part, name in zip(table.tableColumns, ("Depth", "energy [J]", "n", "#1")):
        part.name = name
    sheet.add_table(table)
    bare = Table(displayName="Bare", name="Bare", ref="B12:C13", headerRowCount=0)
    bare._initialise_columns()
    for part, name in zip(bare.tableColumns, "ab"):
        part.name = name
    sheet.add_table(bare)
    path = tmp_path_factory.mktemp("tables") / "book.xlsx"
    return Tables(read_package(stored(workbook, path)))


@pytest.mark.parametrize(
    "reference, cells",
    [
        ("Trial[Depth]", "$B$3:$B$7"),
        ("trial[depth]", "$B$3:$B$7"),
        ("Trial[energy '[J']]", "$C$3:$C$7"),
        ("Trial['#1]", "$E$3:$E$7"),
        ("Trial[]", "$B$3:$E$7"),
        ("Trial[#Data]", "$B$3:$E$7"),
        ("Trial[#All]", "$B$2:$E$8"),
        ("Trial[[#All],[n]]", "$D$2:$D$8"),
        ("Trial[#Headers]", "$B$2:$E$2"),
        ("Trial[[#HEADERS],[n]]", "$D$2"),
        ("Trial[#Totals]", "$B$8:$E$8"),
        ("Trial[[#Totals],[Depth]]", "$B$8"),
        ("Trial[[#Headers],[#Data],[n]]", "$D$2:$D$7"),
        ("Trial[[#Data],[#Totals],[n]]", "$D$3:$D$8"),
        ("Trial[[Depth]:[n]]", "$B$3:$D$7"),
        ("Trial[[n]:[Depth]]", "$B$3:$D$7"),
        ("Trial[[#This Row],[n]]", "$D$4"),
        ("Trial[@n]", "$D$4"),
        ("[@n]", "$D$4"),
        ("[@[energy '[J']]]", "$C$4"),
        ("Trial[@[Depth]:[n]]", "$B$4:$D$4"),
        ("Trial[@]", "$B$4:$E$4"),
        ("Bare[a]", "$B$12:$B$13"),
    ],
)
def test_a_reference_means_these_cells(reference, cells, tables):
    assert absolute(tables.cells(reference, "Shop 1", "E4")) == f"'Shop 1'!{cells}"


@pytest.mark.parametrize(
    "reference, address, why",
    [
        ("Trail[n]", "E4", "there is no table 'Trail'"),
        ("Trial[m]", "E4", "the table has no column 'm'"),
        ("Trial[@n]", "E2", "it means a row of the table and stands in none"),
        ("Trial[@n]", "E8", "it means a row of the table and stands in none"),
        ("[@n]", "F4", "it means a table and stands in none"),
        ("[@n]", "E9", "it means a table and stands in none"),
        ("Bare[#Headers]", "E4", "the table has no such row"),
        ("Bare[#Totals]", "E4", "the table has no such row"),
        ("Trial[#Some]", "E4", "the reference to a table is not understood"),
    ],
)
def test_a_reference_that_means_none_says_why(reference, address, why, tables):
    with pytest.raises(ValueError, match=f"^{why}$"):
        tables.cells(reference, "Shop 1", address)
    assert tables.cells("A1:B2", "Shop 1", address) is None


def test_a_row_of_the_table_is_that_of_its_own_sheet(tables):
    with pytest.raises(ValueError, match="stands in none"):
        tables.cells("[@n]", "Sheet", "E4")


def test_formulas_and_names_get_addresses(tables):
    assert tables.plain("SUM(Trial[n],\n A1)", "Shop 1", "E4") == "SUM('Shop 1'!$D$3:$D$7, A1)"
    names = tables.plain_names({None: {"X": "Trial[n]", "Y": "Trail[n]"}})
    assert names == {None: {"X": "'Shop 1'!$D$3:$D$7", "Y": "Trail[n]"}}


@pytest.mark.parametrize(
    "arguments, native",
    [
        ("Trial[[#This Row],[d]],Trial[[#This Row],[n]]", "=PI()*Trial[[#This Row],[d]]*Trial[[#This Row],[n]]/1000"),
        ("A{row},B{row}", "=PI()*A{row}*B{row}/1000"),
        ("A{row},B$2", "=PI()*A{row}*B$2/1000"),
    ],
)
def test_each_row_that_a_formula_is_filled_down_to_is_checked_with_its_own_cells(arguments, native, tmp_path):
    workbook, count = Workbook(), 5
    sheet = workbook.active
    sheet.append(["d", "n", "v"])
    for row in range(2, count + 2):
        sheet.append([10.0 * row, 150 + row, "=GRIT_WORK_SPEED(" + arguments.format(row=row) + ")"])
    table = Table(displayName="Trial", name="Trial", ref=f"A1:C{count + 1}")
    sheet.add_table(table)
    values = {
        f"C{row}": call("GRIT_WORK_SPEED", 10.0 * row, 150 + (2 if "$" in arguments else row)) for row in range(2, count + 2)
    }
    values["C4"] *= 1 + 1e-8
    path = stored(workbook, tmp_path / "book.xlsx", {"Sheet": values})
    shared = share(path)
    assert [each.after for each in shared.replaced] == [native.format(row=row) for row in range(2, count + 2)]
    assert shared.equal == count - 1 and [difference.place for difference in shared.differences] == ["Sheet!C4"]


def test_a_name_of_one_sheet_is_told_with_its_sheet(tmp_path):
    workbook = Workbook()
    sheet = workbook.active
    sheet.append([20, 150, "=GRIT_WORK_SPEED(A1,B1)"])
    other = workbook.create_sheet("Other")
    other.defined_names["speed"] = DefinedName("speed", attr_text="GRIT_WORK_SPEED(Sheet!$A$1,100)")
    workbook.defined_names["speed"] = DefinedName("speed", attr_text="GRIT_WORK_SPEED(Sheet!$A$1,200)")
    path = stored(workbook, tmp_path / "book.xlsx", {"Sheet": {"C1": call("GRIT_WORK_SPEED", 20, 150)}})
    after = {each.place: each.after for each in share(path).replaced}
    assert after["name speed of Other"] == "=PI()*Sheet!$A$1*100/1000" and after["name speed"] == "=PI()*Sheet!$A$1*200/1000"


@pytest.mark.parametrize("word, taken", [("1", True), ("true", True), ("0", False)])
def test_the_formula_of_a_table_column_takes_ranges_only_as_an_array_formula(word, taken, tmp_path):
    workbook = Workbook()
    for row in (["d", "n", "v"], [20, 150, 1.0], [30, 150, 2.0]):
        workbook.active.append(row)
    table = Table(displayName="Parts", name="Parts", ref="A1:C3")
    table._initialise_columns()
    for part, name in zip(table.tableColumns, "dnv"):
        part.name = name
    table.tableColumns[2].calculatedColumnFormula = TableFormula(attr_text="GRIT_WORK_SPEED(Sheet!$A$2:$A$3,Sheet!$B$2:$B$3)")
    workbook.active.add_table(table)

    def edit(package):
        replace_in(package, "xl/tables/table1.xml", "<calculatedColumnFormula", f'<calculatedColumnFormula array="{word}"')

    shared = share(stored(workbook, tmp_path / "book.xlsx", None, edit))
    done = [each.place for each in (shared.replaced if taken else shared.left)]
    assert done == ["table Parts, column v"] and (taken or "array formula" in shared.left[0].reason)
