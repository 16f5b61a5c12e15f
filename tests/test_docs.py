"""The documents: complete, up to date with the code, without dead links, and every example in them gives what they show."""

from __future__ import annotations

import contextlib
import importlib.util
import inspect
import re
from pathlib import Path

import doc_examples
import openpyxl
import pytest
from engines import cells_of, ironcalc_values
from libreoffice import LibreOffice
from share_books import stored
from start_sheets import constant, filled, grid, typed, with_commas

import gritfuncs as gf
from gritfuncs import cli, example, finder
from gritfuncs.addins.calc import build_oxt
from gritfuncs.commands import COMMANDS
from gritfuncs.public import PUBLIC
from gritfuncs.share.job import share
from gritfuncs.share.names import add_names
from gritfuncs.workbooks.templates import TEMPLATES

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "docs"
PAGES = sorted([*DOCS.rglob("*.md"), ROOT / "README.md", ROOT / "workbook_templates" / "README.md"])
STALE = "run: python3 docs/build.py"
FUNCTIONS = sorted(name for name, thing in PUBLIC.items() if inspect.isfunction(thing))


def text_of(path):
    return path.read_text(encoding="utf-8")


def name_of(path):
    return path.relative_to(ROOT).as_posix()


EVERY_PAGE = pytest.mark.parametrize("path", PAGES, ids=name_of)


@pytest.fixture(scope="module")
def build():
    spec = importlib.util.spec_from_file_location("build", DOCS / "build.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


# --- complete and up to date


def test_generated_pages_are_up_to_date(build):
    pages = build.pages()
    assert [name_of(path) for path, text in pages.items() if not path.exists() or text_of(path) != text] == [], STALE
    readme = text_of(ROOT / "README.md")
    assert build.with_functions(readme) == readme, STALE


def test_every_public_function_has_a_page_with_a_picture_and_no_page_is_left_over():
    assert sorted(entry.name for entry in finder.ENTRIES) == FUNCTIONS
    assert sorted(path.stem for path in (DOCS / "functions").glob("*.md")) == FUNCTIONS
    assert sorted(path.stem for path in (DOCS / "functions" / "pictures").iterdir()) == FUNCTIONS
    index, readme = text_of(DOCS / "functions.md"), text_of(ROOT / "README.md")
    assert [
        name for name in FUNCTIONS if f"](functions/{name}.md)" not in index or f"](docs/functions/{name}.md)" not in readme
    ] == []


@pytest.mark.parametrize("entry", finder.ENTRIES, ids=lambda entry: entry.name)
def test_pages_of_functions_warn_where_it_matters(entry):
    page = text_of(DOCS / "functions" / f"{entry.name}.md")
    words = {quantity.name for quantity in entry.takes + entry.gives}
    for said, concerned in (
        ("nfeed rates count on the radius", "infeed_rate" in words),
        ("refactor 4", "grit_depth" in words),
        ("product", {"grit_density", "shape_ratio"} <= words),
        ("C itself counts", entry.name in ("chip_rate", "chip_volume")),
        ("no limit of your wheel", entry.name in ("wheel_speed", "wheel_rpm", "wheel_speed_for")),
    ):
        assert said in page or not concerned, said


def test_every_command_has_a_section_with_an_example():
    page = text_of(DOCS / "commands.md")
    for name in (command.name for command in COMMANDS):
        section = re.search(rf"^## gritfuncs {name}\n(.*?)(?=^## |\Z)", page, re.MULTILINE | re.DOTALL)
        assert section, name
        lines = [
            line for block in doc_examples.blocks(section[1]) if block.language == "sh" for line in doc_examples.commands(block)
        ]
        assert any(line.split()[1] == name for line in lines), name


@pytest.mark.parametrize("book", TEMPLATES)
def test_every_workbook_has_its_section_and_pictures(book, build):
    assert f"**{book}**" in text_of(ROOT / "workbook_templates" / "README.md")
    assert f"## {book}\n" in text_of(DOCS / "workbooks.md")
    missing = [
        name for sheet in build.sheets(book) if not (DOCS / "pictures" / (name := build.picture_name(book, sheet))).exists()
    ]
    assert missing == [], STALE + " --pictures"


def test_every_word_of_the_vocabulary_stands_in_the_glossary_with_all_its_names():
    sections = dict(re.findall(r"^## ([^\n]+)\n(.*?)(?=^## |\Z)", text_of(DOCS / "glossary.md"), re.MULTILINE | re.DOTALL))
    for quantity in gf.QUANTITIES.values():
        section = sections[quantity.label]
        for fact in (f"`{quantity.name}`", f"symbol {quantity.symbol},", quantity.help, *quantity.also):
            assert fact in section, (quantity.name, fact)


@EVERY_PAGE
def test_every_page_carries_the_caution(path):
    at_the_desk = path.name in ("benchmarks.md", "evidence.md")  # for judging the library; nobody sets a machine by them
    assert "marked on" in text_of(path).lower() or at_the_desk and "(safety.md)" in text_of(path), (
        "a page that is used alone says: never run a wheel above the speed marked on it"
    )


@EVERY_PAGE
def test_rows_of_a_table_have_as_many_cells_as_its_head(path):
    text = re.sub(r"^ *```.*?^ *```$", "", text_of(path), flags=re.MULTILINE | re.DOTALL)
    for table in re.findall(r"(?:^ *\|.*\n)+", text + "\n", re.MULTILINE):
        rows = [len(re.findall(r"(?<!\\)\|", row)) for row in table.splitlines()]
        assert len(set(rows)) == 1, table.splitlines()[[count != rows[0] for count in rows].index(True)]


@EVERY_PAGE
def test_the_version_that_is_shown_is_this_one(path):
    shown = re.findall(r"gritfuncs[- ](\d+\.\d+\.\d+)|`(\d+\.\d+\.\d+)`", text_of(path))
    assert {one or other for one, other in shown} <= {gf.__version__}


def test_every_page_is_reached_from_the_front_page():
    reached, waiting = set(), [ROOT / "README.md"]
    while waiting:
        page = waiting.pop()
        if page in reached:
            continue
        reached.add(page)
        waiting += [target for target, _ in links(page) if target.suffix == ".md" and target.exists()]
    assert [name_of(path) for path in PAGES if path not in reached] == []


# --- links


def links(path):
    """Target file and anchor of every relative link and picture of a page."""
    text = re.sub(r"^ *```.*?^ *```$", "", text_of(path), flags=re.MULTILINE | re.DOTALL)
    text = re.sub(r"`[^`\n]*`", "", text)
    for target in re.findall(r"\]\(([^()\s]+(?:\([^()\s]*\)[^()\s]*)*)\)", text):
        if not re.match(r"[a-z]+:", target):
            file, _, anchor = target.partition("#")
            yield (path.parent / file).resolve() if file else path, anchor


def anchors(path):
    """The anchors that a page's headings make."""
    headings = re.findall(
        r"^#+ +(.+?) *$", re.sub(r"^```.*?^```$", "", text_of(path), flags=re.MULTILINE | re.DOTALL), re.MULTILINE
    )
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}


@pytest.mark.parametrize("path", [*PAGES, ROOT / "DEVELOPERS.md"], ids=name_of)
def test_no_link_is_dead(path):
    for target, anchor in links(path):
        assert target.exists(), target
        assert not anchor or anchor in anchors(target), f"{name_of(target)}#{anchor}"


# --- examples


@EVERY_PAGE
def test_python_blocks_and_command_lines_give_what_is_shown(path):
    names, compared = {}, 0
    with doc_examples.scratch():
        for block in doc_examples.blocks(text_of(path)):
            if block.reason:
                continue
            printed = ""
            if block.language == "python":
                count, printed = doc_examples.run_python(block, names)
                compared += count
            elif block.language == "sh":
                for line in doc_examples.commands(block):
                    code, said = doc_examples.run_command(line)
                    assert code == cli.DONE, line
                    printed += said
            if block.printed and block.language in ("python", "sh"):
                doc_examples.assert_printed(block.printed, printed)
    assert compared or path.parent.name != "functions", "a function's page shows a result"


@EVERY_PAGE
def test_formulas_of_cells_give_what_is_shown(path):
    lines = doc_examples.cell_lines(text_of(path))
    for line in lines:
        value = doc_examples.cell_value(line)
        if isinstance(value, str):
            assert value == (line.shown or "").strip("`"), line
        elif line.shown:
            assert doc_examples.equal_as_shown(value, line.shown.lstrip("`=")), (line, value)
    if (
        path.parent.name == "functions"
        and gf.catalogue.search(path.stem)
        and path.stem in {formula.name for formula in gf.catalogue}
    ):
        assert any(line.shown for line in lines)


def test_native_formulas_of_the_pages_are_what_share_writes(tmp_path):
    book, shown = openpyxl.Workbook(), {}
    for formula in gf.catalogue:
        if not formula.native:
            continue
        sheet = book.create_sheet(formula.name[:31])
        cells = [f"B{row}" for row, _ in enumerate(formula.arguments, 2)]
        for cell, quantity in zip(cells, formula.arguments):
            sheet[cell] = formula.example[quantity.name]
        sheet["A1"] = f"={formula.sheet_name}({','.join(cells)})"
        shown[sheet.title] = re.search(
            r"\| no add-in, inputs in [^|]+ \| `=([^`]+)` \|", text_of(DOCS / "functions" / f"{formula.name}.md")
        )[1]
    values = {
        formula.name[:31]: {"A1": formula.call(**{q.name: formula.example[q.name] for q in formula.arguments})}
        for formula in gf.catalogue
        if formula.native
    }
    shared = share(stored(book, tmp_path / "book.xlsx", values))
    assert shared.complete
    assert {entry.place.partition("!")[0].strip("'"): entry.after.lstrip("=") for entry in shared.replaced} == shown


def test_the_examples_are_found_and_a_wrong_one_fails():
    """The checks above pass over nothing by mistake."""
    page = (
        "1. Text\n\n   ```python\n   1 / 3  # 0.333 µm\n   ```\n\n   ```text\n   ```\n\n| x | `=GRIT_WORK_SPEED(20;150,5)` | 9,456 m/min |\n"
        "\n<!-- not run: needs Windows -->\n```sh\ngritfuncs check\n```\n"
    )
    python, command = doc_examples.blocks(page)
    assert doc_examples.run_python(python, {}) == (1, "") and command.reason == "needs Windows"
    (line,) = doc_examples.cell_lines(page)
    assert doc_examples.equal_as_shown(doc_examples.cell_value(line), line.shown)
    for shown in ("0.334 µm", "0.34", "third", "'0.333'"):
        with pytest.raises(AssertionError):
            doc_examples.run_python(doc_examples.Block("python", f"1 / 3  # {shown}\n", None, None), {})
    with pytest.raises(AssertionError):
        doc_examples.assert_printed("found\n...\n1.36", "found\n1.37")


# --- troubleshooting

SETUP_LINES = "".join(f"{name},{value:g}\n" for name, value in example.setup().items() if name != "wheel_speed")
READINGS = "work rpm,power [kW],idle [kW]\n" + "".join(f"{rpm:g},{power},{idle}\n" for rpm, power, idle in example.readings())
REFUSED = {
    "none.csv": None,
    "old.xls": b"",
    "no headings.csv": b"a,b\n1,2\n",
    "two heads.csv": (READINGS + READINGS).encode(),
    "two loads.csv": b"work rpm,power [kW],spindle power [kW]\n100,2,3\n",
    "zip.csv": b"PK\x03\x04",
    "text.xlsx": b"no workbook",
    "unclear.csv": b"work rpm;load\n1,200;2\n1,300;2\n",
    "too fast.csv": f"{SETUP_LINES}wheel_speed,36\nmarked_wheel_speed,35\n{READINGS}".encode(),
    "locked.xlsx": bytes.fromhex("d0cf11e0a1b11ae1") + "EncryptedPackage".encode("utf-16-le"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_refused_file_is_found_by_what_it_says(name, tmp_path, capsys):
    if REFUSED[name] is not None:
        (tmp_path / name).write_bytes(REFUSED[name])
    assert cli.main(["knee", str(tmp_path / name)]) == cli.FAILED
    assert_on_the_page(capsys.readouterr().err, "When a file is refused")


def test_a_workbook_without_functions_is_found_too(tmp_path, capsys):
    openpyxl.Workbook().save(tmp_path / "plain.xlsx")
    assert cli.main(["share", str(tmp_path / "plain.xlsx")]) == cli.FAILED
    assert_on_the_page(capsys.readouterr().err, "When a file is refused")


@pytest.mark.parametrize(
    "line",
    [
        "table",
        "plan --nominal-rpm 1,250",
        "table --work-diameters 12 --infeed-rates 0,3,0,6",
        "functions zzz",
        "demo gritfuncs-demo",
    ],
)
def test_an_error_of_the_command_line_is_found(line, capsys):
    with doc_examples.scratch(), contextlib.suppress(SystemExit):
        assert cli.main(line.split()) == cli.FAILED
    assert_on_the_page(capsys.readouterr().err, "On the command line")


def assert_on_the_page(error, heading):
    """One of the symptoms under a heading is what the error says; its `...` stands for anything."""
    section = text_of(DOCS / "troubleshooting.md").partition(f"## {heading}\n")[2].partition("\n## ")[0]
    symptoms = re.findall(r"^\| `([^`]+)`", section, re.MULTILINE)
    assert any(re.search(".*".join(map(re.escape, symptom.split("..."))), error) for symptom in symptoms), error


# --- the quick starts


def start(name):
    return text_of(DOCS / "start" / f"{name}.md")


@pytest.mark.parametrize("name", sorted(path.stem for path in (DOCS / "start").glob("*.md")))
def test_quick_starts_have_what_a_reader_needs(name):
    page = start(name)
    steps = re.findall(r"^\d+\. .*?(?=^\d+\. |^\*\*Next)", page, re.MULTILINE | re.DOTALL)
    assert 5 <= len(steps) <= 8 and len(re.findall(r"^!\[", page, re.MULTILINE)) == 1
    assert [step[:40] for step in steps if not re.search(r"[Yy]ou see|```text", step)] == []
    for word in ("**You need**", "**Next**", "**Tried**", "**Not tried**"):
        assert word in page.replace("Not tried:", "**Not tried**"), word


@pytest.fixture(scope="module")
def sheet_in_calc(tmp_path_factory):
    """The values of the sheet of the quick start for LibreOffice, typed into a Calc with the extension, and the file it saves."""
    folder, page = tmp_path_factory.mktemp("start"), start("libreoffice")
    formulas = {f"{entry.cell}:{entry.last}" if entry.last else entry.cell: entry.text for entry in typed(page)}
    with LibreOffice([build_oxt(folder / "gritfuncs.oxt")]) as office:
        shown = office.type(formulas, {cell: [[value]] for cell, value in grid(page).items()}, save=folder / "trial.xlsx")
    return shown, folder / "trial.xlsx"


def assert_seen(page, values):
    entries = typed(page)
    assert len(entries) >= 5
    for entry in entries:
        seen, value = constant(entry.seen), values[entry.cell]
        assert value == seen or isinstance(value, float) and doc_examples.equal_as_shown(value, entry.seen), (entry, value)


def test_quick_start_for_calc(sheet_in_calc):
    assert_seen(start("libreoffice"), sheet_in_calc[0])


def test_quick_start_for_excel_is_the_same_sheet_and_survives_sharing(sheet_in_calc, libreoffice, tmp_path):
    page = start("excel")
    assert grid(page) == grid(start("libreoffice"))
    assert [entry.text for entry in typed(page)] == [with_commas(entry.text) for entry in typed(start("libreoffice"))]
    shared = share(stored(filled(page), tmp_path / "trial.xlsx", {"Sheet": sheet_in_calc[0]}))
    assert shared.complete
    assert_seen(page, libreoffice.recalc(tmp_path / "trial (shared).xlsx")["Sheet"])


def test_quick_start_with_names_and_the_copy_for_others(libreoffice, tmp_path):
    page = start("excel-365")
    filled(page).save(tmp_path / "trial.xlsx")
    add_names(tmp_path / "trial.xlsx", tmp_path / "trial (names).xlsx")
    assert_seen(page, ironcalc_values(tmp_path / "trial (names).xlsx")["Sheet"])
    assert share(tmp_path / "trial (names).xlsx", tmp_path / "native.xlsx").complete
    assert_seen(page, libreoffice.recalc(tmp_path / "native.xlsx")["Sheet"])


def test_quick_start_of_a_shared_workbook(sheet_in_calc, libreoffice):
    page, path = start("received"), sheet_in_calc[1]
    copy = path.with_name("trial (shared).xlsx")
    assert share(path, copy).complete
    book = openpyxl.load_workbook(copy)
    assert not any("GRIT_" in str(cell.value) for cell in cells_of(*book) if cell.data_type == "f")
    before = libreoffice.recalc(copy)["Sheet1"]
    cell, old, new = re.search(r"in (B3) of the sheet in the picture from (\d+) to (\d+)", page).groups()
    assert before[cell] == float(old)
    book["Sheet1"][cell] = float(new)
    book.save(copy.with_name("changed.xlsx"))
    after = libreoffice.recalc(copy.with_name("changed.xlsx"))["Sheet1"]
    changes = re.findall(r"(\w\d+) from ([\d.]+) to ([\d.]+\d)", page.partition("every depth change")[2]) + re.findall(
        r"in (H2) from ([\d.]+) to ([\d.]+\d)", page
    )
    assert len({name for name, _, _ in changes}) == 2
    for name, was, became in changes:
        assert doc_examples.equal_as_shown(before[name], was) and doc_examples.equal_as_shown(after[name], became)
    book["Sheet1"]["B11"] = book["Sheet1"]["B20"] = None  # eight readings at seven depths, all but one of them level
    for row in range(12, 20):
        book["Sheet1"][f"B{row}"] = 1.9
    book.save(copy.with_name("no knee.xlsx"))
    without = libreoffice.recalc(copy.with_name("no knee.xlsx"))["Sheet1"]
    assert without["H1"] in page and without["H1"] != "found" and str(without["H2"]) == "#N/A"


def test_quick_start_of_the_planner(libreoffice, tmp_path):
    page = start("planner")
    book = openpyxl.load_workbook(ROOT / "workbook_templates" / "speed_table.xlsx")
    inputs = re.findall(r"^ *\| [^|]+ \| ([A-Z]\d+) \| ([^|]+) \|$", page, re.MULTILINE)
    assert len(inputs) == 9
    for cell, value in inputs:
        book["Inputs"][cell] = constant(value)
    for first, last, values in re.findall(r"^ *\| [^|]+ \| ([A-Z]\d+) to ([A-Z]\d+) \| ([^|]+) \|$", page, re.MULTILINE):
        cells = [cell for row in book["Speed table"][f"{first}:{last}"] for cell in row]
        assert len(cells) == len(values.split(", "))
        for cell, value in zip(cells, values.split(", ")):
            cell.value = float(value)
    book.save(tmp_path / "table.xlsx")
    shown = libreoffice.recalc(tmp_path / "table.xlsx")["Speed table"]
    expected = re.findall(r"^ *\| [\d.]+ mm \| [\d.]+ mm/min \| ([A-Z]\d+) \| ([^|]+) \|$", page, re.MULTILINE)
    assert len(expected) >= 6
    for cell, seen in expected:
        assert shown[cell] == seen or doc_examples.equal_as_shown(shown[cell], seen), (cell, shown[cell])
    assert shown["A2"].startswith("Wheel 25.0 m/s")
    speed, cell = re.search(r"a wheel speed of (\d+) in (C\d+) gives `STOP`", page).groups()
    book["Inputs"][cell] = float(speed)
    book.save(tmp_path / "too fast.xlsx")
    assert libreoffice.recalc(tmp_path / "too fast.xlsx")["Speed table"]["A2"].startswith("STOP")
