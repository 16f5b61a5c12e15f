"""The record of knees as a file: read as its own sheets judge it, and appended to without harm to what a shop has added."""

from __future__ import annotations

import datetime
import errno
import os
import shutil
import zipfile
from pathlib import Path

import openpyxl
import pytest
from openpyxl.chart import LineChart, Reference
from openpyxl.workbook.defined_name import DefinedName
from test_knee_record import row as record_row

import gritfuncs as gf
from gritfuncs import demo, files
from gritfuncs.knee.confirm import confirm_knee
from gritfuncs.record import add, read_record
from gritfuncs.sheets.save import save_workbook
from gritfuncs.spreadsheets.constant_cells import with_constants
from gritfuncs.workbooks import knee_record
from gritfuncs.workbooks.blocks.record import COLUMNS, FIRST_ROW, ROWS

DAY = datetime.date(2026, 3, 1)
TEXTS = dict(wheel="resin, 200 mm", grit="D126", material="carbide", machine="grinder 1", who="AB")


@pytest.fixture(scope="session")
def trial(tmp_path_factory):
    path = tmp_path_factory.mktemp("trial") / "readings.csv"
    path.write_text(demo.readings_text(), encoding="utf-8")
    return gf.read_trial(path)


@pytest.fixture(scope="session")
def made(trial, tmp_path_factory):
    """A record with one entry, as `add` makes it."""
    path = tmp_path_factory.mktemp("record") / "knee_record.xlsx"
    add(path, trial, "A-1", TEXTS, DAY)
    return path


@pytest.fixture
def record(made, tmp_path):
    return Path(shutil.copy(made, tmp_path / "knee_record.xlsx"))


@pytest.fixture
def shop(made, tmp_path):
    """The record as a shop has made it its own."""
    book = openpyxl.load_workbook(made)
    sheet = book["Record"]
    for each in book:
        each.protection.sheet = False
    sheet["AB7"], sheet["AB8"], sheet["AC8"] = "price", 12.5, "=AB8*2"
    own = book.create_sheet("Our sheet")
    own["A1"], own["A2"], own["A3"] = "entries", "=COUNTA(Record!C8:C67)", "=TODAY()"
    chart = LineChart()
    chart.add_data(Reference(sheet, min_col=12, min_row=8, max_row=20))
    own.add_chart(chart, "C3")
    path = tmp_path / "knee_record.xlsx"
    book.save(path)
    book.close()
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr("xl/media/logo.bin", bytes(range(256)))
    return path


def parts(path):
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def error(path, trial, key="A-2", texts=TEXTS, day=DAY):
    before = {each.name: each.read_bytes() for each in path.parent.iterdir() if each.is_file()}
    with pytest.raises(ValueError) as raised:
        add(path, trial, key, texts, day)
    assert "\n" not in str(raised.value)
    assert {each.name: each.read_bytes() for each in path.parent.iterdir() if each.is_file()} == before
    return str(raised.value)


def test_a_new_record_holds_the_knee_with_all_that_was_known(made, trial):
    (entry,) = read_record(made).entries
    assert entry.status == "ok" and entry.values["date"] == DAY and entry.values["grit"] == "D126"
    assert entry.values["knee"] == pytest.approx(trial.knee.knee, rel=1e-5)
    assert entry.values["density"] * entry.values["ratio"] == pytest.approx(trial.setup.grit_density * 10, rel=1e-5)
    assert entry.values["scatter"] == pytest.approx(100 * trial.knee.noise, rel=1e-5)
    around = entry.around()
    assert around.before.values["infeed_basis"] == "radius" and around.alone.missing() == []
    setup = around.alone.words
    assert setup.number("wheel_diameter") == 200 and setup.number("marked_wheel_speed") == 35


def test_the_entry_confirms_its_own_knee(made, trial):
    entry = read_record(made).entry(" a-1 ")
    told = confirm_knee(trial.depths, trial.energies, entry.recorded_knee(None, 1.0), trial.setup)
    assert told.word == "confirmed" and told.knee == pytest.approx(trial.knee.knee, rel=0.02)


def test_the_scatter_of_the_machine_comes_with_an_entry(record, trial, tmp_path):
    """Of all its entries, whatever the wheel; what a file says itself goes first."""
    add(record, trial, "A-2", {**TEXTS, "wheel": "another"}, DAY)
    add(record, trial, "A-3", {**TEXTS, "machine": "grinder 2"}, DAY)
    entry = read_record(record).entry("A-2")
    freedom = trial.knee.noise_freedom
    assert entry.pooled.freedom == 2 * freedom and entry.pooled.noise == pytest.approx(trial.knee.noise, rel=1e-3)
    assert read_record(record).entry("A-3").pooled.freedom == freedom
    path = tmp_path / "next.csv"
    path.write_text("rpm;power\n120;2.3\n132;2.2\n", encoding="utf-8")
    told = gf.read_trial(path, setup=entry.around())
    assert told.noise == pytest.approx(entry.pooled.noise) and "record A-2" in told.report()
    path.write_text("scatter;4\nrpm;power\n120;2.3\n132;2.2\n", encoding="utf-8")
    assert gf.read_trial(path, setup=entry.around()).noise == 0.04


def test_the_record_is_judged_as_its_own_sheets_judge_it(tmp_path, libreoffice):
    good = dict(zip([column.name for column in COLUMNS], record_row()))
    rows = [
        record_row(key="OK"),
        record_row(key="two"),
        record_row(key=" TWO"),
        record_row(key="no knee", knee=None),
        record_row(key="above", low=1.35, knee=1.3),
        record_row(key="words", knee="1.3"),
        record_row(key="old", date=datetime.date(2020, 1, 1)),
        record_row(key="no date", date=None),
        record_row(key="dense", density=0.0),
        record_row(key=None),
        (),
        record_row(key="late", date=datetime.date(2025, 12, 24)),
    ]
    assert good["knee"] == 1.3
    path = tmp_path / "record.xlsx"
    save_workbook(knee_record.build(dict(records=rows, setups=(), lookup_key="OK")), path)
    seen = libreoffice.recalc(path)["Record"]
    shown = [seen.get(f"B{FIRST_ROW + place}") for place in range(len(rows))]
    assert [entry.status for entry in read_record(path).entries] == [word for word in shown if word]
    assert len(set(shown) - {"", None}) == 4
    with pytest.raises(ValueError, match="the only one with this key"):
        read_record(path).entry("two")


def test_what_a_shop_has_added_stays_byte_for_byte(shop, trial, libreoffice):
    before = parts(shop)
    added = add(shop, trial, "A-2", {**TEXTS, "who": '<b>&"=1+1'}, DAY)
    after = parts(shop)
    assert parts(Path(added.backup)) == before and Path(added.backup).name == "knee_record.backup-1.xlsx"
    assert list(after) == list(before)
    changed = {name for name in after if after[name] != before[name]}
    assert "xl/media/logo.bin" not in changed and not any("chart" in name or "style" in name for name in changed)
    book = openpyxl.load_workbook(shop)
    sheet = book["Record"]
    assert [sheet[cell].value for cell in ("AB8", "AC8", "C8", "C9", "AB9")] == [12.5, "=AB8*2", "A-1", "A-2", None]
    assert not sheet.protection.sheet and sheet["C9"].number_format == sheet["C8"].number_format
    assert sheet["K9"].value.date() == DAY and len(book["Our sheet"]._charts) == 1
    seen = libreoffice.recalc(shop)
    assert seen["Record"]["B9"] == "ok" and seen["Our sheet"]["A2"] == 2 and seen["Record"]["R9"] == '<b>&"=1+1'


def test_values_of_its_own_cells_are_those_of_a_spreadsheet_program(record, trial, libreoffice):
    added = add(record, trial, "A-2", TEXTS, datetime.date(2023, 1, 1))
    assert added.remarks == () and added.entry.status == "outdated"
    stored = openpyxl.load_workbook(record, data_only=True)
    seen = libreoffice.recalc(record)
    for title in ("Record", "Record checks", "Look up", "Checks"):
        for cells in stored[title].iter_rows():
            for cell in cells:
                value = seen[title].get(cell.coordinate)
                if isinstance(value, (int, float)) and isinstance(cell.value, (int, float)) and not isinstance(cell.value, bool):
                    assert cell.value == pytest.approx(value, rel=1e-9), (title, cell.coordinate)
                elif not isinstance(cell.value, datetime.datetime):
                    assert (cell.value or "") == (value or ""), (title, cell.coordinate)
    assert stored["Record"]["B9"].value == "outdated"


def test_a_record_that_libreoffice_has_saved_is_appended_to(record, trial, libreoffice, tmp_path):
    saved = tmp_path / "saved"
    saved.mkdir()
    path = saved / "knee_record.xlsx"
    libreoffice.convert(record, path)
    added = add(path, trial, "A-2", TEXTS, DAY)
    assert added.entry.status == "ok" and [entry.key for entry in read_record(path).entries] == ["A-1", "A-2"]
    assert libreoffice.recalc(path)["Record"]["B9"] == "ok"


def test_rows_and_columns_that_a_shop_has_put_in_are_followed(made, trial, tmp_path, libreoffice):
    """The names move along where a spreadsheet program inserts; here two rows above and a column before."""
    book = openpyxl.load_workbook(made)
    sheet = book["Record"]
    sheet.insert_rows(3, 2)
    for name in list(book.defined_names):
        text = book.defined_names[name].attr_text
        if text.startswith("'Record'!"):
            for number in (FIRST_ROW + ROWS - 1, FIRST_ROW):
                text = text.replace(f"${number}", f"${number + 2}")
            book.defined_names[name].attr_text = text
    path = tmp_path / "moved.xlsx"
    book.save(path)
    added = add(path, trial, "A-2", TEXTS, DAY)
    assert added.entry.values["knee"] == pytest.approx(trial.knee.knee, rel=1e-5)
    assert openpyxl.load_workbook(path)["Record"]["C11"].value == "A-2"


def test_an_older_record_keeps_what_it_has_columns_for(made, trial, tmp_path):
    book = openpyxl.load_workbook(made)
    for name in [name for name in book.defined_names if name.startswith("in_setup_")]:
        del book.defined_names[name]
    del book["Setups"]
    for column in ("scatter", "degrees_of_freedom", "steepness", "shallowest", "deepest", "units"):
        del book.defined_names[f"in_record_{column}"]
    path = tmp_path / "old.xlsx"
    book.save(path)
    added = add(path, trial, "A-2", TEXTS, DAY)
    assert any("no column scatter" in remark for remark in added.remarks)
    assert any("no sheet Setups" in remark for remark in added.remarks)
    entry = read_record(path).entry("A-2")
    assert entry.setup == {} and "shape_ratio" in entry.around().after.values
    with pytest.raises(ValueError, match="must have the scatter of its trial"):
        entry.recorded_knee(None, 1.0)
    assert entry.recorded_knee(0.02, 1.0).noise == 0.02


def test_a_key_is_used_once_and_another_is_proposed(record, trial):
    assert "choose another: --key a-1-2" in error(record, trial, key="a-1")
    assert "must be a short text in one line" in error(record, trial, key="A\n1")
    assert "must be a short text in one line" in error(record, trial, key=" ")


def test_all_that_is_missing_is_named_at_once_with_the_line_that_supplies_it(record, trial):
    said = error(record, trial, texts={"wheel": "resin"})
    assert (
        "grit, material, machine, who must be given" in said
        and '--grit "..." --material "..." --machine "..." --who "..."' in said
    )


def test_only_a_knee_that_was_found_is_added(record, tmp_path):
    text = demo.readings_text().splitlines()
    few = tmp_path / "own" / "few.csv"
    few.parent.mkdir()
    few.write_text("\n".join(text[:15]), encoding="utf-8")
    assert "not added: the verdict is too few readings" in error(record, gf.read_trial(few))
    bare = tmp_path / "own" / "bare.csv"
    bare.write_text("\n".join(text[next(n for n, line in enumerate(text) if line.startswith("work rpm")) :]), encoding="utf-8")
    assert "setup must be complete" in error(record, gf.read_trial(bare))
    damaged = tmp_path / "own" / "damaged.csv"
    lines = [line + ",damage" if "work rpm" in line else line + ",crack" if line[:3].isdigit() else line for line in text]
    damaged.write_text("\n".join(lines), encoding="utf-8")
    assert "damage was seen" in error(record, gf.read_trial(damaged))


def test_a_full_record_is_refused(trial, tmp_path):
    path = tmp_path / "full.xlsx"
    rows = [record_row(key=f"K{number}") for number in range(ROWS)]
    save_workbook(knee_record.build(dict(records=rows, setups=())), path)
    assert f"must have a free row of its {ROWS}" in error(path, trial)


@pytest.mark.parametrize("name", [".~lock.{}#", "~${}"])
def test_a_record_that_is_open_elsewhere_is_left_alone(record, trial, name):
    lock = record.with_name(name.format(record.name))
    lock.write_text("somebody")
    assert "must not be open in another program" in error(record, trial)
    lock.unlink()
    assert add(record, trial, "A-2", TEXTS, DAY).backup


def test_a_full_disk_leaves_everything_as_it_was(record, trial, monkeypatch):
    def full(*_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(files.os, "fsync", full)
    assert "cannot be written (No space left on device)" in error(record, trial)


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="a superuser may write anywhere")
def test_a_folder_or_file_that_is_read_only_is_said_so(record, trial):
    record.chmod(0o444)
    assert "cannot be written" in error(record, trial)
    record.chmod(0o644)
    record.parent.chmod(0o555)
    try:
        assert "cannot be written" in error(record, trial)
    finally:
        record.parent.chmod(0o755)


def test_a_file_that_changes_meanwhile_is_not_written_over(record, trial, monkeypatch):
    before, replace = record.read_bytes(), files.write_new

    def changed(path, content, like=None):
        replace(path, content, like)
        record.write_bytes(before + b" ")

    monkeypatch.setattr(files, "write_new", changed)
    with pytest.raises(ValueError, match="changed while it was read"):
        add(record, trial, "A-2", TEXTS, DAY)
    assert record.read_bytes() == before + b" " and sorted(each.name for each in record.parent.iterdir()) == [record.name]


@pytest.mark.skipif(os.name == "nt", reason="links as POSIX has them")
def test_a_link_to_the_record_stays_a_link(record, trial, tmp_path):
    link = tmp_path / "link.xlsx"
    link.symlink_to(record)
    add(link, trial, "A-2", TEXTS, DAY)
    assert link.is_symlink() and len(read_record(record).entries) == 2


def test_what_is_no_record_is_refused(tmp_path, trial):
    path = tmp_path / "other.xlsx"
    openpyxl.Workbook().save(path)
    assert "must be a record of knees, with the names in_record_... of its columns" in error(path, trial)
    book = openpyxl.Workbook()
    for column in COLUMNS:
        meaning = "Sheet!$C$1:$C$1048576" if column.name == "key" else "Sheet!$D$1:$D$9"
        book.defined_names[f"in_record_{column.name}"] = DefinedName(f"in_record_{column.name}", attr_text=meaning)
    book.save(path)
    assert "must be a record of knees" in error(path, trial)  # no record has a million rows
    path.write_bytes(b"PK\x03\x04 broken")
    assert "damaged workbook" in error(path, trial)
    ods = tmp_path / "record.ods"
    ods.write_bytes(b"PK")
    assert "record.ods" in error(ods, trial)


def test_an_entry_that_may_not_be_used_is_refused_with_what_is_wrong(tmp_path):
    path = tmp_path / "record.xlsx"
    save_workbook(knee_record.build(dict(records=[record_row(knee=None)], setups=())), path)
    with pytest.raises(ValueError, match="record.xlsx: the entry A-1 must be one that may be used .got incomplete: knee"):
        read_record(path).entry("A-1").refuse_unusable("record.xlsx")


class TestConstants:
    START = b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    END = b"</sheetData></worksheet>"

    def put(self, inside, values, styles=None):
        data = with_constants(self.START + inside + self.END, values, styles)
        return data[len(self.START) : -len(self.END)]

    def test_an_empty_sheet_takes_rows_in_their_order(self):
        data = with_constants(self.START[:-1] + b"/></worksheet>", {"B3": 1.5, "A2": "x & y", "A3": 2})
        inside = '<row r="2"><c r="A2" t="inlineStr"><is><t xml:space="preserve">x &amp; y</t></is></c></row>'
        assert (
            data
            == self.START
            + (inside + '<row r="3"><c r="A3" t="n"><v>2</v></c><c r="B3" t="n"><v>1.5</v></c></row>').encode()
            + self.END
        )

    def test_a_cell_keeps_its_style_and_its_place_among_the_others(self):
        row = b'<row r="2" spans="1:3" ht="30"><c r="A2"/><c r="C2" s="7"/><c r="E2"><f>A2</f><v>1</v></c></row>'
        made = self.put(row, {"C2": 4, "D2": 5}, {"D2": 9})
        assert made == (
            b'<row r="2" ht="30"><c r="A2"/><c r="C2" s="7" t="n"><v>4</v></c><c r="D2" s="9" t="n"><v>5</v></c>'
            b'<c r="E2"><f>A2</f><v>1</v></c></row>'
        )

    def test_rows_and_cells_that_leave_their_address_to_be_counted_get_it(self):
        made = self.put(b"<row><c><v>1</v></c><c><v>2</v></c></row><row><c><v>3</v></c></row>", {"C1": 9})
        assert made == (
            b'<row r="1"><c r="A1"><v>1</v></c><c r="B1"><v>2</v></c><c r="C1" t="n"><v>9</v></c></row>'
            b'<row r="2"><c><v>3</v></c></row>'
        )

    def test_a_prefix_is_kept(self):
        data = b'<x:worksheet xmlns:x="urn:x"><x:sheetData><x:row r="1"/></x:sheetData></x:worksheet>'
        assert b'<x:row r="1"><x:c r="A1" t="n"><x:v>1</x:v></x:c></x:row>' in with_constants(data, {"A1": 1})
