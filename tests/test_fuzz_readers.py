"""Every command that reads a file meets hostile ones: it reads or refuses in one line, within bounds, and harms nothing.

`fuzz.py` does the same for as long as it is let; its counts stand in docs/evidence/fuzz.json.
"""

from __future__ import annotations

import json
import os
import sys

import pytest

pytest.importorskip("resource", reason="processes with limits need a Unix")

import fuzz  # noqa: E402
import hostile_files  # noqa: E402
from fuzz import COMMANDS, MOST_MEMORY, MOST_SECONDS, kind_of, run  # noqa: E402
from hostile_files import KINDS, LARGE, MAIN, SHEET, Hostile, hostile, packed, parts_of, sound, with_sheet  # noqa: E402

from gritfuncs import cli  # noqa: E402
from gritfuncs.spreadsheets import elements as xml_elements  # noqa: E402
from gritfuncs.spreadsheets import handing, stored_cells
from gritfuncs.spreadsheets import package as ooxml
from gritfuncs.spreadsheets.package import read_package, sheet_parts  # noqa: E402
from gritfuncs.spreadsheets.stored_cells import StoredCell, shared_strings, stored_rows  # noqa: E402
from gritfuncs.trial import read_trial  # noqa: E402

SEEDS = range(3) if "CI" in os.environ else [int.from_bytes(os.urandom(4), "big") for _ in range(3)]


@pytest.fixture(scope="module", autouse=True)
def _warm():
    fuzz.warm_up()


def held(result):
    """The bounds of a run, and nothing that must never be."""
    assert not result.faults, "\n".join(result.faults)
    assert result.megabytes * 1e6 < MOST_MEMORY and result.seconds < MOST_SECONDS


@pytest.mark.parametrize("kind", KINDS)
def test_hostile_files_are_read_or_refused(kind):
    for seed in SEEDS:
        held(run(kind, f"{seed}", 3))


@pytest.mark.parametrize(
    "kind, command", [("a_million_rows", "knee"), ("a_tree_of_names", "addin names"), ("a_list_of_a_million_parts", "share")]
)
# the others take longer: see fuzz.py
def test_large_files_take_no_more_than_the_bounds(kind, command, monkeypatch):
    monkeypatch.setattr(fuzz, "COMMANDS", {command: COMMANDS[command]})
    held(run(kind, "1"))


@pytest.mark.parametrize("kind", ["trial", "sheet", "calls"])
def test_the_files_they_start_from_are_sound(kind, monkeypatch):
    monkeypatch.setitem(KINDS, "sound", lambda chance: Hostile("book.xlsx", sound(kind)))
    result = run("sound", 0)
    held(result)
    assert result.lines["share" if kind == "calls" else "knee"] == "read"
    assert result.lines["addin names"] == "read"


def test_the_same_seed_gives_the_same_files():
    for kind in KINDS:
        first, second = (hostile(kind, 7) for _ in range(2))
        assert first.name == second.name
        assert callable(first.content) and callable(second.content) or first.content == second.content


# --- the run itself must see what goes wrong ---


def sound_run(monkeypatch, main):
    monkeypatch.setitem(KINDS, "sound", lambda chance: Hostile("book.xlsx", sound("sheet")))
    monkeypatch.setattr(cli, "main", main)
    return " ".join(run("sound", 0, 1).faults)


def refusing(line, code=1):
    def main(arguments):
        print(line, file=sys.stderr)
        return code

    return main


def leaving(name):
    def main(arguments):
        path = next(word for word in arguments if word.endswith(".xlsx"))
        with open(os.path.join(os.path.dirname(path), name), "w") as file:
            file.write("part of it")
        print("done")
        return 0

    return main


def changing(arguments):
    with open(next(word for word in arguments if word.endswith(".xlsx")), "ab") as file:
        file.write(b"!")
    print("done")
    return 0


def hungry(arguments):
    return len(bytearray(2 * MOST_MEMORY))


def busy(arguments):
    while True:
        pass


@pytest.mark.parametrize(
    "main, said",
    [
        (lambda arguments: 1 / 0, "ZeroDivisionError"),
        (lambda arguments: 2, "exit code 2"),
        (lambda arguments: 1, "exit code 1 with ''"),
        (refusing("two\nlines"), "more than one line"),
        (refusing("gritfuncs: not this command"), "more than one line"),
        (refusing("gritfuncs knee: \x1b[2J"), ""),
        (refusing("gritfuncs knee: wrong", 0), ""),
        (leaving("book.xlsx.7.tmp"), "left behind"),
        (leaving("book (shared).xlsx"), "must be an .xlsx"),
        (changing, "the file was changed"),
        (lambda arguments: sys.exit(3), "SystemExit"),
    ],
)
def test_the_run_sees_what_a_command_does_wrong(monkeypatch, main, said):
    faults = sound_run(monkeypatch, main)
    assert faults and said in faults


@pytest.mark.skipif(sys.platform != "linux", reason="only there is the memory of a process limited")
def test_the_run_sees_a_command_that_takes_too_much(monkeypatch):
    assert "MemoryError" in sound_run(monkeypatch, hungry)
    monkeypatch.setattr(fuzz, "MOST_SECONDS", 1)
    assert "the process ended with status" in sound_run(monkeypatch, busy)


def test_the_evidence_is_of_these_kinds_of_files():
    evidence = json.loads(fuzz.EVIDENCE.read_text(encoding="utf-8"))
    assert evidence["faults"] == 0 and evidence["commands"] == list(COMMANDS)
    assert set(evidence["kinds"]) == {*KINDS, *LARGE}
    for number in range(evidence["inputs"]):
        evidence["kinds"][kind_of(number)]["inputs"] -= 1
    assert {count["inputs"] for count in evidence["kinds"].values()} == {0}


# --- the bounds one by one ---


def rows_of(tmp_path, rows, **more):
    given = with_sheet(rows, **more)
    (tmp_path / given.name).write_bytes(given.content)
    package = read_package(tmp_path / given.name)
    part = next(iter(sheet_parts(package).values()))
    return list(stored_rows(package, part, shared_strings(package)))


def refused(tmp_path, rows, **more):
    with pytest.raises(ValueError) as error:
        rows_of(tmp_path, rows, **more)
    assert "\n" not in str(error.value)
    return str(error.value)


def test_cells_of_each_type_with_and_without_an_address(tmp_path):
    rows = (
        '<row><c><v>1.5</v></c><c t="b"><v>1</v></c><c t="e"><v>#N/A</v></c></row><row r="9"><c r="C9" t="str"><f>A1</f><v></v></c><c t="inlineStr">'
        '<is><r><t>a</t></r><rPh><t>not</t></rPh><t>b</t></is></c><c s="2"><f>1</f></c><c/><c t="n"><v>nan</v></c><c t="d"><v>2026-01-02</v></c></row><row/>'
    )
    found = rows_of(tmp_path, rows)
    assert [row.number for row in found] == [1, 9]
    assert found[0].cells == {
        1: StoredCell("n", 1.5, False, 0),
        2: StoredCell("b", True, False, 0),
        3: StoredCell("e", "#N/A", False, 0),
    }
    assert found[1].cells == {
        3: StoredCell("str", "", True, 0),
        4: StoredCell("inlineStr", "ab", False, 0),
        5: StoredCell("n", None, True, 2),
        7: StoredCell("n", "nan", False, 0),
        8: StoredCell("d", "2026-01-02", False, 0),
    }


@pytest.mark.parametrize(
    "rows, said",
    [
        ('<row r="1048577"/>', "row '1048577' after row 0"),
        ('<row r="2"/><row r="2"/>', "row '2' after row 2"),
        ('<row r="9999999999"/>', "after row 0"),
        ('<row r="x"/>', "row 'x' after row 0"),
        ('<row><c r="B2"/></row>', "a cell of row 1 has the address 'B2'"),
        ('<row><c r="B2"><v>1</v></c></row>', "a cell of row 1 has the address 'B2'"),
        ('<row r="12"><c r="B13"><v>1</v></c></row>', "a cell of row 12 has the address 'B13'"),
        ('<row><c r="1"><v>1</v></c></row>', "a cell of row 1 has the address '1'"),
        ('<row><c r="b1"><v>1</v></c></row>', "a cell of row 1 has the address 'b1'"),
        ('<c r="A1"><v>1</v></c>', "has the address"),
        ('<row><c r="XFE1"><v>1</v></c></row>', "beyond the last column"),
        ("<c><v>1</v></c>", "outside of all rows"),
        ('<row><c t="s"><v>1</v></c></row>', "has the text number '1'"),
        ('<row><c t="s"><v>-1</v></c></row>', "has the text number '-1'"),
        ("<row>", "mismatched tag"),
    ],
)
def test_what_no_program_writes_is_refused(tmp_path, rows, said):
    message = refused(tmp_path, rows)
    assert said in message and "damaged workbook (part xl/worksheets/sheet1.xml: " in message


def test_the_number_of_cells_texts_and_tags_is_limited(tmp_path, monkeypatch):
    monkeypatch.setattr(stored_cells, "MOST_CELLS", 3)
    assert len(rows_of(tmp_path, "<row><c><v>1</v></c></row>" * 3)) == 3
    assert "must have at most 3 filled cells" in refused(tmp_path, "<row><c><v>1</v></c></row>" * 4)
    monkeypatch.setattr(handing, "MOST_TAGS", 50)
    assert len(rows_of(tmp_path, "<row/>" * 46)) == 0
    assert "must have at most 50 tags" in refused(tmp_path, "<row/>" * 47)
    assert "must have at most 50 tags" in refused(tmp_path, "<row></row>" * 24)
    given = hostile_files.with_strings("<si><t>a</t></si>" * 4, "")
    (tmp_path / given.name).write_bytes(given.content)
    with pytest.raises(ValueError, match="must have at most 3 texts"):
        shared_strings(read_package(tmp_path / given.name))


@pytest.mark.parametrize("encoding", ["utf-8", "cp037"])
def test_a_document_type_is_found_under_any_name_and_encoding(tmp_path, encoding):
    parts = parts_of(sound("sheet"))
    sheet = (
        '<!DOCTYPE x [<!ENTITY a "b">]>'
        + f'<worksheet xmlns="{MAIN}"><sheetData><row><c t="str"><v>&a;</v></c></row></sheetData></worksheet>'
    )
    parts["xl/worksheets/sheet1.dat"] = f"<?xml version='1.0' encoding='{encoding}'?>".encode() + sheet.encode(encoding)
    parts[hostile_files.LINKS] = parts[hostile_files.LINKS].replace(b"sheet1.xml", b"sheet1.dat")
    del parts[SHEET]
    (tmp_path / "book.xlsx").write_bytes(packed(parts))
    with pytest.raises(ValueError, match="must not declare a document type|not well-formed"):
        read_trial(tmp_path / "book.xlsx")


def test_the_lists_of_a_workbook_are_limited(tmp_path, monkeypatch):
    (tmp_path / "book.xlsx").write_bytes(sound("sheet"))
    monkeypatch.setattr(xml_elements, "MOST_CHILDREN", 0)
    with pytest.raises(ValueError, match=r"book.xlsx: part xl/styles.xml: must have at most 0 xf in one cellXfs"):
        read_trial(tmp_path / "book.xlsx")


def test_a_file_with_a_longer_list_of_parts_than_any_workbook_is_not_opened(tmp_path, monkeypatch):
    (tmp_path / "book.xlsx").write_bytes(sound("sheet"))
    monkeypatch.setattr(ooxml, "MOST_PARTS", 0)
    with pytest.raises(ValueError, match="must have at most 0 parts"):
        read_package(tmp_path / "book.xlsx")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes among files here")
@pytest.mark.parametrize("name", ["file.csv", "book.xlsx"])
def test_a_pipe_is_not_waited_for(tmp_path, name):
    os.mkfifo(tmp_path / name)
    with pytest.raises(ValueError, match="must be a file"):
        read_trial(tmp_path / name)
