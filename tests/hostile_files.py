"""Files as nobody should send them, for the fuzz run over the readers: a function a kind, each from a random generator.

A kind gives a file's name and its bytes, or a function that puts something else than a file at a path.
"""

from __future__ import annotations

import io
import os
import random
import re
import socket
import struct
import sys
import tempfile
import warnings
import zipfile
from functools import cache
from pathlib import Path
from typing import Callable, NamedTuple

import trial_workbook
from openpyxl import Workbook
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.formula import ArrayFormula
from share_books import stored

SAMPLE = Path(__file__).parent / "data" / "trial_invented.csv"
SHEET, BOOK, LINKS, STRINGS = (
    "xl/worksheets/sheet1.xml",
    "xl/workbook.xml",
    "xl/_rels/workbook.xml.rels",
    "xl/sharedStrings.xml",
)
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
TYPES = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
TIME = (2000, 1, 1, 0, 0, 0)
HEAD = '<row><c t="str"><v>rpm</v></c><c t="str"><v>load</v></c></row><row><c><v>120</v></c><c><v>5</v></c></row>'
JUNK = (
    "",
    " ",
    "\x00",
    "\ufeff",
    "\u2028",
    "<",
    "&",
    '"',
    "'",
    "]]>",
    "=",
    "=1+1",
    "@",
    "-",
    "1e999",
    "-1e999",
    "nan",
    "inf",
    "9" * 400,
    "1.2.3",
    "1,2,3",
    "\u0663",
    "²",
    "½",
    "٣",
    "µ",
    "\U0001f600",
    "A" * 300,
    "0",
    "-0",
    "1e-320",
    "TRUE",
    "#N/A",
    "#REF!",
    "rpm",
    "%s",
    "{0}",
    "120;2",
    "in_readings",
    "XFD1048576",
    "R1C1",
    "A:A",
    "../..",
    "C:\\x",
    "\r",
    "\t",
    "\n",
    "\r\n",
    ";",
    ",",
    ":",
    "|",
)


class Hostile(NamedTuple):
    name: str
    content: bytes | Callable[[Path], None]


KINDS: dict[str, Callable[[random.Random], Hostile]] = {}
LARGE: dict[str, Callable[[random.Random], Hostile]] = {}  # take seconds


def kind(function):
    KINDS[function.__name__] = function
    return function


def large(function):
    LARGE[function.__name__] = function
    return function


# --- sound files to start from ---


def zipped(parts, method=zipfile.ZIP_DEFLATED):
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", method) as archive, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a name that is there twice
        for name, data in parts:
            entry = zipfile.ZipInfo(name, TIME)
            entry.compress_type = method
            archive.writestr(entry, data)
    return file.getvalue()


def packed(parts):
    """The package, beside large parts with enough noise that it is not refused for being packed too well."""
    size = sum(map(len, parts.values()))
    noise = {"xl/media/noise.bin": random.Random(size).randbytes(size // 250)} if size > 500_000 else {}
    return zipped({**parts, **noise}.items())


def parts_of(data):
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {name: archive.read(name) for name in archive.namelist() if not name.startswith("docProps")}


def _trial(folder):
    return trial_workbook.save(folder / "trial.xlsx")


def _sheet(folder):
    book = Workbook()
    for row in (
        ["Invented"],
        ["wheel diameter", 200, "mm"],
        [],
        ["rpm", "power (kW)", "idle", "use", "note"],
        [120, 2.05, 0.86, "yes", "a"],
        [132, 1.99, 0.86],
        [108, 2.13, 0.86, "no"],
        [96, "#N/A", 0.86],
        [84, True],
        ["=A5", "=B5"],
        [72, 2.44],
    ):
        book.active.append(row)
    book.save(folder / "sheet.xlsx")
    return folder / "sheet.xlsx"


def _calls(folder):
    """Calls of the cell functions in cells, arrays, shared formulas, names and rules."""
    book = Workbook()
    sheet, values = book.active, {}
    sheet.title = "Work"
    for row, (depth, energy) in enumerate(
        zip((0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3), (72.3, 63.8, 56.1, 48.2, 40.1, 39.8, 40.2, 39.9)), 2
    ):
        sheet[f"A{row}"], sheet[f"B{row}"] = depth, energy
        sheet[f"C{row}"] = f'=IF(A{row}>0,GRIT_WORK_SPEED(A{row}*20,B{row})+SUM(A2:A9),"")'
        values[f"C{row}"] = 3.0
    sheet["D2"] = "=GRIT_KNEE(A2:A9,B2:B9)"
    sheet["D3"] = ArrayFormula("D3:D5", "=GRIT_WORK_SPEED(A2:A4,B2:B4)")
    sheet["D6"] = '=COUNTIF(A:A,"*a*")+GRIT_MEAN_SIZE("D126")'
    values.update({"D2": 1.0, "D3": 0.1, "D6": 115.5})
    book.defined_names["fast"] = DefinedName("fast", attr_text="GRIT_WORK_SPEED(Work!$A$2,200)")
    return stored(book, folder / "calls.xlsx", {"Work": values})


@cache
def sound(name):
    """The bytes of a sound workbook, the same in every run."""
    with tempfile.TemporaryDirectory() as folder:
        path = {"trial": _trial, "sheet": _sheet, "calls": _calls}[name](Path(folder))
        return zipped(parts_of(path.read_bytes()).items())


def any_workbook(chance):
    return sound(chance.choice(("trial", "sheet", "calls")))


def with_part(chance, change, names=None):
    """A workbook with one part changed."""
    parts = parts_of(any_workbook(chance))
    name = chance.choice(sorted(set(parts) & set(names)) if names else sorted(parts))
    parts[name] = change(parts[name])
    return Hostile("book.xlsx", packed(parts))


def with_sheet(rows, before="", after="", base="sheet", **more):
    parts = parts_of(sound(base))
    parts[SHEET] = f'<worksheet xmlns="{MAIN}">{before}<sheetData>{rows}</sheetData>{after}</worksheet>'.encode()
    return Hostile("book.xlsx", packed({**parts, **more}))


def with_strings(items, rows):
    parts = parts_of(sound("sheet"))
    parts[LINKS] = parts[LINKS].replace(
        b"</Relationships>", f'<Relationship Id="x" Type="{TYPES}/sharedStrings" Target="s.xml"/></Relationships>'.encode()
    )
    parts[SHEET] = f'<worksheet xmlns="{MAIN}"><sheetData>{rows}</sheetData></worksheet>'.encode()
    return Hostile("book.xlsx", packed({"xl/s.xml": f'<sst xmlns="{MAIN}">{items}</sst>'.encode(), **parts}))


def with_formula(formula, more="", names=""):
    """A workbook whose only formula is this one, with a call in it."""
    parts = parts_of(sound("calls"))
    escaped = formula.replace("&", "&amp;").replace("<", "&lt;")
    parts[SHEET] = (
        f'<worksheet xmlns="{MAIN}"><sheetData><row r="1"><c r="A1"><v>1</v></c><c r="B1" t="str"><v>{"a" * 30000}</v></c>'
        f'<c r="C1"><f>{escaped}</f><v>1</v></c>{more}</row></sheetData></worksheet>'
    ).encode()
    if names:
        parts[BOOK] = re.sub(b"<definedNames>.*</definedNames>", f"<definedNames>{names}</definedNames>".encode(), parts[BOOK])
    return Hostile("book.xlsx", zipped(parts.items()))


def mutated(chance, data, most=8):
    data = bytearray(data)
    for _ in range(chance.randint(1, most)):
        place = chance.randrange(len(data) + 1)
        data[place : place + chance.choice((0, 0, 1, 1, 2, 8, 64))] = chance.choice(
            (
                bytes([chance.randrange(256)]),
                chance.randbytes(chance.randrange(9)),
                chance.choice(JUNK).encode("utf-8", "replace"),
                data[(other := chance.randrange(len(data) + 1)) : other + chance.randrange(200)],
            )
        )
    return bytes(data)


# --- text files ---


def text(chance):
    """The sample, or a table in some dialect."""
    if chance.random() < 0.3:
        return SAMPLE.read_bytes()
    delimiter, sign = chance.choice((";,", ";.", ",.", "\t,", "\t."))
    rows = [["rpm", chance.choice(("load", "power (kW)", "A")), "idle", "use", "note"]]
    rows += [
        [
            str(round(chance.uniform(20, 300), 1)).replace(".", sign),
            f"{chance.uniform(1, 3):.2f}".replace(".", sign),
            "",
            chance.choice(("", "yes", "no")),
            chance.choice(("", "a", "two words")),
        ]
        for _ in range(chance.randint(1, 30))
    ]
    return chance.choice(("\n", "\r\n", "\r")).join(delimiter.join(row) for row in rows).encode()


@kind
def text_truncated(chance):
    data = text(chance)
    return Hostile("file.csv", data[: chance.randrange(len(data))])


@kind
def text_mutated(chance):
    return Hostile(chance.choice(("file.csv", "file.txt", "file.tsv")), mutated(chance, text(chance)))


@kind
def text_spliced(chance):
    one, other = text(chance), chance.choice((text(chance), sound("sheet"), chance.randbytes(100)))
    return Hostile("file.csv", one[: chance.randrange(len(one))] + other[chance.randrange(len(other)) :])


@kind
def text_encodings(chance):
    encoding = chance.choice(("utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-7", "cp037", "cp1252", "utf-8-sig", "shift_jis"))
    return Hostile("file.csv", mutated(chance, text(chance).decode("utf-8", "replace").encode(encoding, "replace"), 2))


@kind
def text_of_junk(chance):
    delimiter = chance.choice(";,\t")
    rows = [[chance.choice(JUNK) for _ in range(chance.randrange(6))] for _ in range(chance.randrange(12))]
    rows.insert(chance.randrange(len(rows) + 1), ["rpm", "load", chance.choice(JUNK)])
    return Hostile("file.csv", "\n".join(delimiter.join(row) for row in rows).encode("utf-8", "replace"))


@kind
def text_repeated(chance):
    """What a search that goes back and forth would take hours for."""
    unit = chance.choice(
        (*"([{)=: #'\",;\t.-+", "rpm ", "rpm(", "( )", "1 111", "1,111", "=\n", "in ", "( ", " =", '""', "1e1", "rpm;load\n")
    )
    head = chance.choice(("", "wheel diameter", "rpm;load\n", "# ", '"'))
    return Hostile(
        "file.csv",
        (
            head + unit * (chance.choice((5_000, 200_000, 1_900_000)) // len(unit)) + chance.choice(("", "\nrpm;load\n1;2\n"))
        ).encode(),
    )


@kind
def random_bytes(chance):
    start = chance.choice(
        (
            b"",
            b"",
            b"PK\x03\x04",
            b"PK\x05\x06",
            b"\xef\xbb\xbf",
            b"\xff\xfe",
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1",
            b"%PDF-1.7\n",
            b"\x89PNG\r\n\x1a\n",
            b"<?xml version='1.0'?>",
        )
    )
    return Hostile(
        chance.choice(("file.csv", "book.xlsx", "book.xlsm")), start + chance.randbytes(chance.choice((0, 1, 10, 1000, 100_000)))
    )


# --- what is no file, or not the one it says ---


@kind
def something_else(chance):
    def folder(path):
        path.mkdir()

    def pipe(path):
        os.mkfifo(path)

    def device(path):
        path.symlink_to(chance.choice(("/dev/zero", "/dev/null", "/dev/full")))

    def nowhere(path):
        path.symlink_to(path.name)

    def plug(path):
        with socket.socket(socket.AF_UNIX) as end:
            here = os.getcwd()
            os.chdir(path.parent)  # a socket's path is short
            end.bind(path.name)
            os.chdir(here)

    def nothing(path):
        pass

    return Hostile(chance.choice(("file.csv", "book.xlsx")), chance.choice((folder, pipe, device, nowhere, plug, nothing)))


@kind
def wrong_ending(chance):
    ods = zipped([("mimetype", b"application/vnd.oasis.opendocument.spreadsheet"), ("content.xml", b"<a/>")])
    xls = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + chance.randbytes(2000)
    return Hostile(
        chance.choice(("book.xlsx", "book.xlsm", "file.csv", "file.ods", "file", "BOOK.XLSX")),
        chance.choice((ods, xls, xls + "EncryptedPackage".encode("utf-16-le"), text(chance), any_workbook(chance), b"")),
    )


# --- zip files ---


@kind
def zip_truncated(chance):
    data = any_workbook(chance)
    return Hostile("book.xlsx", data[: chance.randrange(len(data))])


@kind
def zip_mutated(chance):
    return Hostile("book.xlsx", mutated(chance, any_workbook(chance)))


@kind
def zip_headers_mutated(chance):
    """Damage in the list of parts and in what stands before each of them, where the sizes and places are."""
    data = bytearray(any_workbook(chance))
    marks = [match.start() for match in re.finditer(b"PK(?:\x01\x02|\x03\x04|\x05\x06)", bytes(data))]
    for _ in range(chance.randint(1, 4)):
        place = chance.choice(marks) + chance.randrange(4, 46)
        data[place : place + chance.choice((1, 2, 4))] = chance.choice(
            (b"\xff", b"\xff\xff", b"\xff\xff\xff\xff", b"\0\0", b"\x01", chance.randbytes(2))
        )
    return Hostile("book.xlsx", bytes(data))


@kind
def zip_spliced(chance):
    one, other = any_workbook(chance), chance.choice((any_workbook(chance), text(chance)))
    cut = chance.randrange(len(one))
    return Hostile(
        "book.xlsx",
        chance.choice(
            (one + other, other + one, one[:cut] + other[chance.randrange(len(other)) :], one[:cut] + other + one[cut:])
        ),
    )


@kind
def zip_names(chance):
    parts = list(parts_of(any_workbook(chance)).items())
    odd = chance.choice(
        (
            "../../evil",
            "/etc/evil",
            "C:\\evil",
            "xl\\workbook.xml",
            "XL/WORKBOOK.XML",
            "xl/workbook.xml",
            "",
            "a" * 60_000,
            "xl/",
            "\ud7ff",
            "xl/../xl/workbook.xml",
            "con",
            "a\0b",
            "a\nb",
        )
    )
    if chance.random() < 0.5:
        parts.insert(chance.randrange(len(parts)), (odd, b"<a/>"))
    else:
        place = chance.randrange(len(parts))
        parts[place] = (odd, parts[place][1])
    return Hostile("book.xlsx", zipped(parts))


@kind
def zip_flags(chance):
    """Parts marked as encrypted, packed otherwise, or with a false checksum, here or in the list at the end."""
    data = bytearray(any_workbook(chance))
    mark, (flag, method, checksum) = chance.choice(((b"PK\x03\x04", (6, 8, 14)), (b"PK\x01\x02", (8, 10, 16))))
    offset, change = chance.choice(
        (
            (flag, chance.choice((1, 0x20, 0x40, 0x41, 0x800, 8))),
            (method, chance.choice((1, 6, 9, 12, 14, 93, 99))),
            (checksum, 0x55),
        )
    )
    places = [match.start() for match in re.finditer(re.escape(mark), bytes(data))]
    for place in places if chance.random() < 0.5 else [chance.choice(places)]:
        data[place + offset] ^= change & 255
    return Hostile("book.xlsx", bytes(data))


@kind
def zip_64(chance):
    """An end of the list that says more than 32 bits can."""
    data = any_workbook(chance)
    end = data.rindex(b"PK\x05\x06")
    count, size, start = (chance.choice((0, 1, 12, 2**16, 2**31, 2**32, 2**40, 2**63, 2**64 - 1)) for _ in range(3))
    record = struct.pack("<4sQHHIIQQQQ", b"PK\x06\x06", 44, 45, 45, 0, 0, count, count, size, start)
    locator = struct.pack("<4sIQI", b"PK\x06\x07", 0, chance.choice((end, 0, 2**40, 2**63)), 1)
    return Hostile("book.xlsx", data[:end] + record + locator + data[end : end + 8] + b"\xff" * 12 + b"\0\0")


@kind
def zip_bombs(chance):
    """Parts that inflate to far more than they take, and say so or not."""
    parts = parts_of(any_workbook(chance))
    name = chance.choice((SHEET, BOOK, "xl/media/a.png", "xl/b.xml"))
    filler = chance.choice((b" ", b"\0", b"<a/>", b"<row/>"))
    size = chance.choice((1_000_000, 3_000_000, 20_000_000))
    parts[name] = filler * (size // len(filler))
    data = zipped(parts.items())
    if chance.random() < 0.5:
        data = data.replace(struct.pack("<I", len(parts[name])), struct.pack("<I", chance.choice((0, 1, 1000, 2**32 - 2))))
    if chance.random() < 0.3:
        data = zipped([*parts_of(sound("sheet")).items(), ("xl/embeddings/a.xlsx", data)])
    return Hostile("book.xlsx", data)


@kind
def zip_of_many(chance):
    count = chance.choice((100, 3000, 10_001))
    return Hostile(
        "book.xlsx", zipped([*parts_of(any_workbook(chance)).items(), *((f"a{place}", b"") for place in range(count))])
    )


# --- XML inside ---


@kind
def part_mutated(chance):
    return with_part(chance, lambda data: mutated(chance, data))


@kind
def part_truncated(chance):
    return with_part(chance, lambda data: data[: chance.randrange(len(data) + 1)])


@kind
def part_exchanged(chance):
    parts = parts_of(any_workbook(chance))
    one, other = chance.sample(sorted(parts), 2)
    if chance.random() < 0.5:
        parts[one] = parts[other]
    else:
        del parts[one]
    return Hostile("book.xlsx", zipped(parts.items()))


@kind
def part_entities(chance):
    """Document types: expanding, from outside, and spelled so that they are hard to see."""
    laughs = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 9))
    doctype = chance.choice(
        (
            f'<!DOCTYPE x [<!ENTITY a0 "ha">{laughs}]>',
            '<!DOCTYPE x [<!ENTITY a8 SYSTEM "file:///etc/hostname">]>',
            '<!DOCTYPE x SYSTEM "http://127.0.0.1:9/x.dtd">',
            '<!DOCTYPE x [<!ENTITY % p SYSTEM "/dev/zero"> %p;]>',
            f'<!DOCTYPE x [<!ENTITY a8 "{"b" * 100_000}">]>',
        )
    )
    encoding = chance.choice(("utf-8", "utf-8", "utf-16", "cp037", "utf-7", "iso-8859-1", "cp500"))

    def change(data):
        told, body = f"<?xml version='1.0' encoding='{encoding}'?>", data.decode("utf-8")
        body = re.sub(r"^<\?xml.*?\?>", "", body)
        body = doctype + re.sub(r"(<v>|<t>|<Relationship )", r"\1&a8;" if chance.random() < 0.7 else r"\1", body, count=3)
        if encoding in ("cp037", "cp500"):  # the declaration is read before it counts
            return told.encode() + body.encode(encoding, "replace")
        return (told + body).encode(encoding, "replace")

    hostile = with_part(chance, change, (SHEET, BOOK, LINKS, "xl/styles.xml", STRINGS))
    if chance.random() < 0.3:  # under a name that does not look like XML
        parts = parts_of(hostile.content)
        if SHEET in parts:
            parts["xl/worksheets/sheet1.dat"] = parts.pop(SHEET)
            parts[LINKS] = parts[LINKS].replace(b"sheet1.xml", b"sheet1.dat")
            return Hostile("book.xlsx", zipped(parts.items()))
    return hostile


@kind
def part_nested(chance):
    depth, name = (chance.choice((900, 20_000, 100_000)), chance.choice(("a", "row", "c", "v", "is", "t", "r", "si", "f", "rPh")))
    inner = f"<{name}>" * depth + chance.choice(("", "1")) + f"</{name}>" * depth
    place = chance.choice(
        (
            rb"<sheetData>",
            rb"<sheets>",
            rb"<Relationships[^>]*>",
            rb"<row[^>]*>",
            rb"<c [^>]*>",
            rb"<cellXfs[^>]*>",
            rb"<si>",
            rb"<is>",
        )
    )
    return with_part(
        chance,
        lambda data: re.sub(place, lambda match: match[0] + inner.encode(), data, count=1),
        (SHEET, BOOK, LINKS, "xl/styles.xml", STRINGS),
    )


@kind
def part_repeated(chance):
    """Elements and attributes by the hundred thousand."""
    count = chance.choice((1000, 10_000, 100_000))
    unit = chance.choice(
        (
            '<c r="A1"/>',
            "<row/>",
            "<f>",
            "</f>",
            '<c r="A1"><f>GRIT_X(',
            "<sheets/>",
            "</sheets",
            "</",
            "<definedName ",
            "<x:",
            "<definedNames/>",
            "<calcPr ",
            '<definedName name="a" ',
            "<!-- -->",
            "<![CDATA[]]>",
            "<sheet ",
            '<numFmt numFmtId="1" formatCode="d"/>',
            "<xf/>",
            "<formula>GRIT_X(1)</formula>",
            "<formula>",
            "<xm:f>",
            "<formula1 ",
        )
    )
    if chance.random() < 0.4:
        unit = (
            f"<z a='{unit * count}'/>".replace("<", "&lt;").replace("&lt;z", "<z", 1)
            if chance.random() < 0.5
            else f'<z {"a" * count}="{"b" * count}"/>'
        )
        count = 1
    return with_part(
        chance,
        lambda data: data.replace(b">", b">" + (unit * count).encode(), chance.choice((1, 2))),
        (SHEET, BOOK, LINKS, "xl/styles.xml"),
    )


@kind
def part_links(chance):
    """Relations that lead elsewhere."""
    target = chance.choice(
        (
            "",
            "/",
            "..",
            "../../../../etc/passwd",
            "/xl/workbook.xml",
            "workbook.xml",
            "worksheets/",
            "http://127.0.0.1:9/",
            "worksheets/SHEET1.XML",
            "_rels/workbook.xml.rels",
            "a" * 100_000,
            "%2e%2e/x",
            "styles.xml",
            "worksheets/sheet1.xml#a",
            "\\xl\\worksheets\\sheet1.xml",
        )
    )
    return with_part(
        chance,
        lambda data: re.sub(
            rb'Target="[^"]*"', lambda match: f'Target="{target}"'.encode() if chance.random() < 0.6 else match[0], data
        ),
        (LINKS,),
    )


@kind
def part_names(chance):
    """Defined names and sheets that stand for odd things."""
    meaning = chance.choice(
        (
            "#REF!",
            "A1",
            "Work!$A$1:$XFD$1048576",
            "GRIT_KNEE(fast,fast)",
            "fast",
            "slow",
            "LAMBDA(x,fast(x))",
            "1+",
            "'Work'!A1:'Work'!B2",
            "[1]x!A1",
            'INDIRECT("A1")',
            "(" * 8000,
            "GRIT_WHEEL_SPEED(" * 900,
            "Inputs!$B:$B",
            "Gone!$A$1",
            "'My readings'!$C$5:$XFD$44",
            "A" * 9000,
        )
    )
    name = chance.choice(
        ("in_readings", "in_load_kind", "fast", "FAST", "GRIT_KNEE", "GRIT_WORK_SPEED", "", "A1", "_xlnm.Print_Area", "x" * 5000)
    )
    extra = chance.choice(
        (
            "",
            ' localSheetId="0"',
            ' localSheetId="-1"',
            ' localSheetId="99999999999999999999"',
            ' hidden="1"',
            ' localSheetId="²"',
        )
    )
    element = f'<definedName name="{name}"{extra}>{meaning}</definedName>'
    return with_part(
        chance,
        lambda data: re.sub(
            rb"</definedNames>|<definedNames ?/>|</sheets>",
            lambda match: element.encode() + match[0] if match[0] == b"</definedNames>" else match[0],
            data,
        ),
        (BOOK,),
    )


@kind
def part_sheets(chance):
    """Lists of sheets that are no such."""
    change = chance.choice(
        (
            (rb"<sheet [^>]*/>", b""),
            (rb'name="[^"]*"', b""),
            (rb'name="[^"]*"', b'name=""'),
            (rb"(<sheet [^>]*/>)", rb"\1" * 300),
            (
                rb'name="[^"]*"',
                b'name="' + chance.choice(JUNK).encode("utf-8", "replace").replace(b'"', b"").replace(b"<", b"&lt;") + b'"',
            ),
            (rb'r:id="[^"]*"', b""),
            (rb'r:id="[^"]*"', b'r:id="nothing"'),
            (rb"<sheets>", b"<sheets/><sheets>"),
            (rb"spreadsheetml/2006", b"other"),
        )
    )
    return with_part(
        chance,
        lambda data: re.sub(
            change[0],
            lambda match: match.expand(change[1].replace(b"\\", b"\\\\") if b"\\1" not in change[1] else change[1]),
            data,
        ),
        (BOOK,),
    )


# --- cells ---


@kind
def cells_of_junk(chance):
    """Any type of cell with any content anywhere, formulas as texts among them."""

    def cell(column):
        content = chance.choice((*JUNK, "0", "1", "120", "2.5")).replace("&", "&amp;").replace("<", "&lt;").replace("\x00", "")
        address = chance.choice(
            (
                f'r="{column}{row}"',
                f'r="{column}{row}"',
                "",
                f'r="{chance.choice(JUNK[15:45])}"'.replace("<", "").replace("&", ""),
            )
        )
        told = chance.choice(("", "", 't="s"', 't="str"', 't="b"', 't="e"', 't="d"', 't="inlineStr"', 't="n"', 't="odd"'))
        style = chance.choice(("", "", 's="1"', 's="999"', 's="x"', 's="-1"'))
        formula = chance.choice(
            (
                "",
                "",
                "<f>A1</f>",
                "<f/>",
                '<f t="shared" si="0"/>',
                '<f t="array" ref="A1:B2">GRIT_VERSION()</f>',
                "<f>GRIT_KNEE(A1:A9,B1:B9)</f>",
            )
        )
        holder = chance.choice(
            (f"<v>{content}</v>", f"<v>{content}</v>", "<v/>", "", f"<is><t>{content}</t></is>", f"<v><b>{content}</b></v>")
        )
        return f"<c {address} {told} {style}>{formula}{holder}</c>"

    rows = [HEAD]
    for row in range(3, 3 + chance.randrange(12)):
        number = chance.choice(
            (f'r="{row}"', f'r="{row}"', f'r="{row}"', "", 'r="0"', 'r="1048577"', 'r="99999999999"', 'r="1"', 'r="x"')
        )
        rows.append(f"<row {number}>{''.join(cell(column) for column in 'ABCDE'[: chance.randint(1, 5)])}</row>")
    return with_sheet("".join(rows))


@kind
def cells_far_out(chance):
    claim = chance.choice(('<dimension ref="A1:XFD1048576"/>', '<dimension ref="A1"/>', '<dimension ref="x"/>', ""))
    place = chance.choice(("XFD1048576", "A1048576", "XFE1", "A1048577", "ZZZ9", "A99999999999", "XFD3"))
    rows = f'{HEAD}<row r="{re.sub("[A-Z]", "", place)}"><c r="{place}"><v>1</v></c></row>'
    return with_sheet(rows, claim, '<mergeCells><mergeCell ref="A1:XFD1048576"/></mergeCells>')


@kind
def cells_with_strings(chance):
    item = chance.choice(
        (
            "<si><t>rpm</t></si>",
            "<si><r><t>a</t></r><rPh><t>b</t></rPh></si>",
            "<si/>",
            "<t>rpm</t>",
            "<si><si><t>a</t></si></si>",
            "x",
        )
    )
    number = chance.choice(("0", "1", "99", "-1", "", "1.5", "x", "²"))
    return with_strings(
        item * chance.choice((1, 2, 1000)), HEAD + f'<row><c t="s"><v>{number}</v></c><c t="s"><v>0</v></c></row>'
    )


@kind
def formulas_of_all_kinds(chance):
    """Formulas that would take for ever, or more memory than there is, if they were computed as they stand."""
    call = "GRIT_WORK_SPEED(A1,200)"
    formula = chance.choice(
        (
            "(" * 4000 + call + ")" * 4000,
            "-" * 8000 + call,
            f"{call}+SUM(A1:XFD1048576)",
            f"SUM({','.join(['A:XFD'] * 250)})+{call}",
            f"C1+{call}",
            f"{call}+SUMPRODUCT(A1:A90000*A1:Z1)",
            f'COUNTIF(B:B,"{"*a" * 100}b")+{call}',
            f'MATCH("{"a*" * 60}b",B1:B9,0)+{call}',
            f"REPT(B1,99999999)&{call}",
            f"{'SUBSTITUTE(' * 5}B1{',B1,B1)' * 5}&{call}",
            f'SUBSTITUTE(SUBSTITUTE(B1,"a",B1),"a",B1)&{call}',
            "&".join(["B1"] * 2000) + "&" + call,
            f"10^99999+{call}",
            f"ROUND({call},99999999)",
            f"ROUND(1,-400)+{call}",
            f"MOD(1E300,1E-300)+{call}",
            "GRIT_WORK_SPEED(" * 400 + "1",
            "GRIT_KNEE(A1:XFD1048576,A1:XFD1048576)",
            "GRIT_KNEE(A:A,B:B)",
            "GRIT_KNEE_REPORT(A1:A9,B1:B9)",
            f"{call}#",
            f"{{{call}}}",
            f"'{call}",
            f'"{call}',
            f'TEXT({call},"0.{"0" * 400}")',
            f"INDEX(A1:C1,{call},1E300)",
            f"CHOOSE(1E18,{call})",
            f"FLOOR({call},1E-320)",
            f"LARGE(A1:A1,1E300)+{call}",
            f"LEFT(B1,1E300)&{call}",
            'GRIT_MEAN_SIZE("=HYPERLINK(1)")',
            "GRIT_WORK_SPEED(" + "A1," * 2000 + "1)",
            "+".join([call] * 200),
            f"IF({call}>0,{call},{call})",
            f"BINOMDIST({call},1E18,0.5,TRUE)",
            f"TINV(0.5,1E300)+{call}",
            f"1E999+{call}",
            f"{'9' * 5000}+{call}",
            f"{call}%%%%%%%%",
            f"A1:B1:C1+{call}",
            f"[1]x!A1+{call}",
            f"'a''b'!A1+{call}",
            f"fast+slow+{call}",
        )
    )
    more = chance.choice(
        (
            "",
            '<c r="D1"><f t="array" ref="D1:XFD1048576">GRIT_VERSION()</f><v>1</v></c>',
            f'<c r="D1"><f t="shared" si="0" ref="D1:D9">{call}</f><v>1</v></c><c r="E1"><f t="shared" si="0"/><v>1</v></c>',
        )
    )
    names = chance.choice(
        (
            "",
            '<definedName name="fast">slow</definedName><definedName name="slow">fast</definedName>',
            '<definedName name="fast">GRIT_WORK_SPEED(fast,fast)</definedName>',
        )
    )
    return with_formula(formula, more, names)


# --- large ones ---


@large
def a_million_rows(chance):
    cell = chance.choice(("", "<c/>", '<c s="1"/>'))
    return with_sheet(HEAD + f"<row>{cell}</row>" * 1_000_000)


@large
def rows_as_wide_as_can_be(chance):
    """Little to store, but much for a reader that fills the gaps."""
    value = chance.choice(("", "<v> </v>"))
    return with_sheet(HEAD + "".join(f'<row r="{row}"><c r="XFD{row}" t="str">{value}</c></row>' for row in range(3, 400_000)))


@large
def cells_by_the_million(chance):
    cell = chance.choice(("<c><v>1</v></c>", '<c t="str"><v>a</v></c>'))
    width = chance.choice((16_384, 16_385, 1000, 10))
    return with_sheet(HEAD + f"<row>{cell * width}</row>" * (1_500_000 // width))


@large
def a_million_shared_strings(chance):
    item = chance.choice(("<si><t>{}</t></si>", "<si><r><t>{}</t></r><r><t>b</t></r></si>"))
    count = chance.choice((999_999, 1_200_000))
    return with_strings(
        "".join(item.format(number) for number in range(count)), HEAD + '<row><c t="s"><v>7</v></c><c><v>1</v></c></row>'
    )


@large
def elements_by_the_million(chance):
    return with_sheet(HEAD + chance.choice(("<a/>", "<row/>", "<b><a/></b>")) * 8_000_000)


@large
def a_tree_of_names(chance):
    parts = parts_of(any_workbook(chance))
    unit = chance.choice(("<definedName/>", "<a/>", '<definedName name="a">A1</definedName>'))
    parts[BOOK] = parts[BOOK].replace(
        b"</sheets>",
        b"</sheets><definedNames>" + unit.encode() * (chance.choice((9_000_000, 12_000_000)) // len(unit)) + b"</definedNames>",
        1,
    )
    return Hostile("book.xlsx", packed(parts))


@large
def calls_by_the_hundred_thousand(chance):
    count = chance.choice((20_000, 120_000))
    first = '<c r="A1"><f t="shared" ref="A1:A9" si="0">GRIT_WORK_SPEED(B1,20)</f><v>1</v></c>'
    more = (
        '<c r="A{row}"><f t="shared" si="0"/><v>1</v></c>'
        if chance.random() < 0.5
        else '<c r="A{row}"><f>GRIT_WORK_SPEED(B1,20)</f><v>1</v></c>'
    )
    rows = "".join(f'<row r="{row}">{more.format(row=row)}</row>' for row in range(2, count))
    return with_sheet(f'<row r="1">{first}</row>{rows}', base="calls")


@large
def a_list_of_a_million_parts(chance):
    entry = struct.pack("<4sHHHHHHIIIHHHHHII", b"PK\x01\x02", 20, 20, 0, 0, 0, 33, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)
    data = sound("sheet")
    end = data.rindex(b"PK\x05\x06")
    listed = entry * chance.choice((50_000, 1_000_000))
    return Hostile("book.xlsx", data[:end] + listed + struct.pack("<4sHHHHIIH", b"PK\x05\x06", 0, 0, 1, 1, len(listed), end, 0))


def hostile(name, seed):
    """The input of a kind for a seed."""
    chance = random.Random(f"{name} {seed}")
    return {**KINDS, **LARGE}[name](chance)


if sys.platform == "win32":  # neither pipes nor devices stand among files there
    del KINDS["something_else"]
