"""Trials from OpenDocument spreadsheets: cells by value, repeats within bounds, names, and damage refused in one line."""

from __future__ import annotations

import zipfile
from datetime import date

import pytest
import trial_workbook
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from gritfuncs.refused import Refused
from gritfuncs.trial import read_trial

HEAD = (
    '<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" '
    'xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"><office:body><office:spreadsheet>'
)
TAIL = "</office:spreadsheet></office:body></office:document-content>"
MIME = "application/vnd.oasis.opendocument.spreadsheet"


def cell(value):
    if value is None:
        return "<table:table-cell/>"
    if isinstance(value, str):
        return f'<table:table-cell office:value-type="string"><text:p>{value}</text:p></table:table-cell>'
    return f'<table:table-cell office:value-type="float" office:value="{value!r}"><text:p>shown</text:p></table:table-cell>'


def row(*values, more=""):
    return f"<table:table-row{more}>{''.join(map(cell, values))}</table:table-row>"


def save(path, *rows, mime=MIME, content=None, **parts):
    body = HEAD + f'<table:table table:name="Trial">{"".join(rows)}</table:table>' + TAIL
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", mime)
        archive.writestr("content.xml", body if content is None else content)
        for name, text in parts.items():
            archive.writestr(name.replace("__", "/"), text)
    return path


def refusal(path, **options):
    with pytest.raises(Refused) as caught:
        read_trial(path, **options)
    assert "\n" not in str(caught.value) and str(caught.value).startswith("trial.ods: ")
    return str(caught.value)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "trial.ods"


def test_cells_are_read_by_their_values(path):
    rows = [row("Wheel diameter", 8, "in"), row(), row("rpm", "power (W)", "note"), row(120, 2050, "a"), row(132.5, 1990)]
    trial = read_trial(save(path, *rows))
    assert trial.source == "trial.ods, sheet Trial"
    assert [(reading.row, reading.work_rpm, reading.load, reading.note) for reading in trial.used] == [
        (4, 120, 2.05, "a"),
        (5, 132.5, 1.99, ""),
    ]
    assert "Wheel diameter 8 in is used as 203.2 mm." in trial.remarks


@pytest.mark.parametrize("stored", ["2026-03-02", "2026-03-02T06:30:00"])
def test_the_day_of_a_date_cell_is_that_of_the_trial(path, stored):
    day = f'<table:table-cell office:value-type="date" office:date-value="{stored}"><text:p>shown</text:p></table:table-cell>'
    line = f"<table:table-row>{cell('date of the trial')}{day}</table:table-row>"
    trial = read_trial(save(path, line, row(), row("rpm", "power (W)"), row(120, 2050), row(132.5, 1990)))
    assert trial.given.date == date(2026, 3, 2)


def test_repeats_count_and_empty_ones_cost_nothing(path):
    again = ' table:number-rows-repeated="3"'
    endless = '<table:table-row table:number-rows-repeated="1048570"><table:table-cell table:number-columns-repeated="16384"/></table:table-row>'
    gap = '<table:table-row table:number-rows-repeated="4"><table:table-cell/></table:table-row>'
    trial = read_trial(save(path, row("rpm", "load"), gap, row(120, 5, more=again), endless))
    assert [reading.row for reading in trial.used] == [6, 7, 8]
    wide = '<table:table-row><table:table-cell table:number-columns-repeated="2" office:value-type="float" office:value="7"/></table:table-row>'
    assert read_trial(save(path, row("rpm", "load"), wide)).energies == (7,)
    assert "at most 500 filled rows" in refusal(
        save(path, row("rpm", "load"), row(120, 5, more=' table:number-rows-repeated="900"'))
    )
    for many in ('<table:table-row table:number-rows-repeated="99999">', "<table:table-row>"):
        full = f'{many}<table:table-cell table:number-columns-repeated="9999" office:value-type="float" office:value="7"/></table:table-row>'
        assert "trial.ods: must have at most 1024 filled columns" in refusal(save(path, row("rpm", "load"), full))


@pytest.mark.parametrize("many", ["0", "-1", "1.5", "many", "1048577", "1" * 5000, ""])
@pytest.mark.parametrize("what", ["rows", "columns"])
def test_what_cannot_be_repeated_so_often_is_damaged(path, what, many):
    repeated = f' table:number-{what}-repeated="{many}"'
    one = f"<table:table-row{repeated if what == 'rows' else ''}><table:table-cell{repeated if what == 'columns' else ''}/></table:table-row>"
    assert "damaged document (part content.xml: a repetition of" in refusal(save(path, row("rpm", "load"), row(120, 5), one))


def test_notes_spans_and_blanks_are_told_apart(path):
    noted = (
        '<table:table-cell office:value-type="string"><office:annotation><text:p>a remark of mine</text:p></office:annotation>'
        "<text:p>work<text:s/>rpm</text:p></table:table-cell>"
    )
    table = f"<table:table-row>{noted}{cell('<text:span>po</text:span>wer')}</table:table-row>"
    assert read_trial(save(path, table, row(120, 5))).used[0].work_rpm == 120


def test_cells_that_are_no_numbers_are_left_out_with_what_they_are(path):
    def typed(kind, **attributes):
        given = "".join(f' office:{name.replace("_", "-")}="{value}"' for name, value in attributes.items())
        return f'<table:table-row>{cell(120)}<table:table-cell office:value-type="{kind}"{given}><text:p>#N/A</text:p></table:table-cell></table:table-row>'

    error = (
        f'<table:table-row>{cell(120)}<table:table-cell table:formula="of:=1/0" office:value-type="string" office:string-value="" '
        'calcext:value-type="error"><text:p>#DIV/0!</text:p></table:table-cell></table:table-row>'
    )
    rows = [typed("date", date_value="2024-05-02"), typed("boolean", boolean_value="true"), typed("float", value="INF"), error]
    assert [status for _, status in read_trial(save(path, row("rpm", "load"), *rows)).left_out] == [
        "left out: load is not a number (a date or time)",
        "left out: load is not a number",
        "left out: load is not a number",
        "left out: load is not a number (#DIV/0!)",
    ]


@pytest.mark.parametrize(
    "options, part",
    [
        (dict(mime="application/zip"), "must be an .ods spreadsheet"),
        (dict(content="<a>"), "damaged document"),
        (dict(content="<!DOCTYPE a [<!ENTITY b 'c'>]><a/>"), "must not declare a document type"),
        (dict(META_INF__x="", content=""), "damaged document"),
        ({"META-INF__manifest.xml": "<manifest:encryption-data/>"}, "remove the password first"),
    ],
)
def test_what_is_no_sound_document_is_refused(path, options, part):
    assert part in refusal(save(path, row("rpm", "load"), row(120, 5), **options))


def test_files_that_are_no_zip_are_refused(path):
    path.write_bytes(b"rpm;load\n1;2\n")
    assert "must be an .ods spreadsheet" in refusal(path)


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_a_damaged_document_is_read_or_refused_in_one_line(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("ods") / "trial.ods"
    body = bytearray((HEAD + f'<table:table table:name="T">{row("rpm", "load")}{row(120, 5)}</table:table>' + TAIL).encode())
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(body) - 1))
        body[place : place + data.draw(st.integers(0, 3))] = data.draw(st.binary(max_size=3))
    save(path, content=bytes(body))
    try:
        read_trial(path).report()
    except ValueError as problem:
        assert "\n" not in str(problem) and str(problem).startswith("trial.ods: ")


def test_what_libreoffice_writes_is_read_as_the_workbook_was(tmp_path, libreoffice):
    source = trial_workbook.save(tmp_path / "trial.xlsx")
    one, other = read_trial(source), read_trial(libreoffice.convert(source, tmp_path / "trial.ods"))
    assert one.setup == other.setup and one.readings == other.readings and one.knee == other.knee
    book = Workbook()
    for values in (["rpm", "power", "note"], [120, 2.5, "a\nb"], [], [130, "=1+1", None], ["x", 3, None]):
        book.active.append(values)
    book.save(tmp_path / "sheet.xlsx")
    readings = read_trial(libreoffice.convert(tmp_path / "sheet.xlsx", tmp_path / "sheet.ods")).readings
    assert [(each.row, each.work_rpm, each.load, each.note) for each in readings] == [
        (2, 120, 2.5, "a\nb"),
        (3, None, None, ""),
        (4, 130, 2, ""),
        (5, None, 3, ""),
    ]


def test_a_unit_that_a_cell_shows_counts(tmp_path):
    def shown(value, text, kind="float"):
        return f'<table:table-cell office:value-type="{kind}" office:value="{value}"><text:p>{text}</text:p></table:table-cell>'

    rows = [
        f"<table:table-row>{cell('wheel diameter')}{shown(8, '8,0 in')}</table:table-row>",
        f"<table:table-row>{cell('noise')}{shown(0.02, '2 %', 'percentage')}</table:table-row>",
        row("rpm", "power"),
        f"<table:table-row>{cell(120.0)}{shown(2050, '2.050 W')}</table:table-row>",
        f"<table:table-row>{cell(132.0)}{shown(1.99, '1,990E+00')}</table:table-row>",
    ]
    trial = read_trial(save(tmp_path / "trial.ods", *rows))
    assert "Wheel diameter 8 in is used as 203.2 mm." in trial.remarks and trial.noise == 0.02
    assert [reading.load for reading in trial.used] == [2.05, 1.99]


def test_a_cell_merged_over_several_rows_holds_for_each_of_them(tmp_path):
    over = '<table:table-cell table:number-rows-spanned="2" office:value-type="float" office:value="120"/>'
    covered = "<table:covered-table-cell/>"
    rows = [
        row("rpm", "load"),
        f"<table:table-row>{over}{cell(5)}</table:table-row>",
        f"<table:table-row>{covered}{cell(4)}</table:table-row>",
    ]
    trial = read_trial(save(tmp_path / "trial.ods", *rows))
    assert [(reading.work_rpm, reading.load) for reading in trial.used] == [(120, 5), (120, 4)]
