"""Regenerate what documents show of the code: python3 docs/build.py [--pages] [--pictures].

Writes the pages of functions, glossary and commands, the lists in README.md, the public names for editors, plots of functions
that have none yet (needs matplotlib), and the built workbooks; with --pictures all plots anew and the sheets of the workbooks
(needs LibreOffice and pdftoppm, too); with --pages only the texts and missing plots.  The tests compare all but the pictures.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path

DOCS = Path(__file__).resolve().parent
ROOT = DOCS.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(DOCS)]
os.environ["OPENPYXL_LXML"] = "False"  # the same bytes whether lxml is installed or not

import commands_page  # noqa: E402
import compare_picture  # noqa: E402
import function_pages  # noqa: E402
import function_pictures  # noqa: E402
import json_schema  # noqa: E402
import openpyxl  # noqa: E402
import power_log_picture  # noqa: E402
import steps_picture  # noqa: E402
import stub  # noqa: E402
from glossary_page import glossary_page  # noqa: E402

from gritfuncs import example  # noqa: E402
from gritfuncs.sheets.save import save_workbook  # noqa: E402
from gritfuncs.trial.log.example import example_log  # noqa: E402
from gritfuncs.workbooks.power_log import build as power_log  # noqa: E402
from gritfuncs.workbooks.templates import TEMPLATES, save  # noqa: E402
from gritfuncs.workbooks.trial import build as trial  # noqa: E402

BEGIN, END = "<!-- functions -->\n", "<!-- end of functions -->"
BEGIN_COMMANDS, END_COMMANDS = "<!-- commands -->\n", "<!-- end of commands -->"
FRONT_PICTURE = ("trial.xlsx", "2 Trial", 110)  # of the README, with its resolution
FRONT_CROP = ("-x", "30", "-y", "50", "-W", "1230", "-H", "545")  # without the empty foot of the page
PLOTS = DOCS / "functions" / "pictures"
RESOLUTION = 70  # dots per inch of the gallery


def pasted_log():
    """power_log.xlsx with the simulated log of the example."""
    rows = [tuple(map(float, line.split(","))) for line in example_log().splitlines()[2:]]
    times, powers = zip(*rows)
    return power_log.build(dict(times=times, powers=powers))


FILLED = {"trial.xlsx": lambda: trial.build(dict(readings=example.readings())), "power_log.xlsx": pasted_log}  # shipped blank


def with_functions(readme: str) -> str:
    """The README with its lists of functions and of commands made anew."""
    for begin, end, made in ((BEGIN, END, function_pages.readme_functions()), (BEGIN_COMMANDS, END_COMMANDS, readme_commands())):
        head, _, rest = readme.partition(begin)
        readme = head + begin + made + end + rest.partition(end)[2]
    return readme


def readme_commands() -> str:
    return "\n".join(["| command | what it does |", "|---|---|", *commands_page.command_rows("docs/commands.md")]) + "\n"


def pages() -> dict[Path, str]:
    """Every generated text, the README aside: documents, and the public names for editors."""
    made = {DOCS / "functions" / f"{name}.md": text for name, text in function_pages.pages().items()}
    return {
        **made,
        DOCS / "functions.md": function_pages.index_page(),
        DOCS / "glossary.md": glossary_page(),
        DOCS / "compare.md": compare_picture.page(),
        DOCS / "commands.md": commands_page.commands_page(),
        DOCS / "output.schema.json": json_schema.schema(),
        DOCS / "workbooks.md": gallery_page(),
        ROOT / "gritfuncs" / "__init__.pyi": stub.stub(),
    }


def picture_name(book: str, sheet: str) -> str:
    return f"{Path(book).stem}-{sheet}".lower().replace(" ", "-").replace("_", "-") + ".png"


def sheets(book: str) -> list:
    return openpyxl.load_workbook(ROOT / "workbook_templates" / book, read_only=True).sheetnames


def gallery_page() -> str:
    """docs/workbooks.md: every sheet of every workbook as a picture."""
    lines = [
        "# The workbooks in pictures",
        "",
        "First page of each sheet as LibreOffice prints it, with the invented example. Made by "
        "`python3 docs/build.py --pictures`. What the workbooks are for: [guide](../workbook_templates/README.md).",
        "",
        function_pages.CAUTION.format(up=""),
        "",
    ]
    for book in TEMPLATES:
        lines += [f"## {book}", ""]
        for sheet in sheets(book):
            lines += [f"### {sheet}", "", f"![{book}, sheet {sheet}](pictures/{picture_name(book, sheet)})", ""]
    return "\n".join(lines).rstrip() + "\n"


def pictures() -> None:
    from libreoffice import LibreOffice

    folder = DOCS / "pictures"
    folder.mkdir(exist_ok=True)
    with LibreOffice() as office, tempfile.TemporaryDirectory() as scratch:

        def draw(filled: Path, sheet: str, resolution: int, target: Path, crop: tuple = ()) -> None:
            print(target.relative_to(ROOT), flush=True)
            pdf = office.convert(filled, filled.with_suffix(".pdf"), sheets=[sheet])
            page = ("-f", "1", "-singlefile", *crop, str(pdf), str(target.with_suffix("")))
            subprocess.run(["pdftoppm", "-png", "-r", str(resolution), *page], check=True)

        wanted = {picture_name(book, sheet) for book in TEMPLATES for sheet in sheets(book)}
        for book in TEMPLATES:
            for old in folder.glob(picture_name(book, "*")):
                if old.name not in wanted:
                    old.unlink()
        for book in TEMPLATES:
            filled = Path(scratch) / book
            save_workbook(FILLED[book](), filled) if book in FILLED else save(book, filled)
            for sheet in sheets(book):
                draw(filled, sheet, RESOLUTION, folder / picture_name(book, sheet))
        book, sheet, resolution = FRONT_PICTURE
        draw(Path(scratch) / book, sheet, resolution, DOCS / picture_name(book, sheet), FRONT_CROP)
        stepped = Path(scratch) / "stepped.xlsx"
        save_workbook(steps_picture.book(), stepped)
        draw(stepped, sheet, resolution, folder / steps_picture.NAME, FRONT_CROP)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pages", action="store_true", help="neither workbooks nor pictures of them")
    parser.add_argument("--pictures", action="store_true", help="all pictures anew (needs matplotlib, LibreOffice and pdftoppm)")
    chosen = parser.parse_args()
    for name in () if chosen.pages else TEMPLATES:  # before the page that lists their sheets
        print(f"workbook_templates/{name}", flush=True)
        path = ROOT / "workbook_templates" / name
        path.unlink(missing_ok=True)  # this one place writes a file anew
        save(name, path)
    readme = ROOT / "README.md"
    readme.write_text(with_functions(readme.read_text(encoding="utf-8")), encoding="utf-8")
    for path, text in pages().items():
        path.write_text(text, encoding="utf-8")
    try:
        function_pictures.draw_all(PLOTS, only_missing=not chosen.pictures)
        compare_picture.draw_all(DOCS / "pictures")
        power_log_picture.draw(DOCS / "pictures" / power_log_picture.NAME)
    except ModuleNotFoundError as error:
        sys.exit(f"a plot cannot be drawn without {error.name}: pip install {error.name}, then this again")
    if chosen.pictures:
        from start_pictures import draw_all  # needs LibreOffice

        draw_all(DOCS / "pictures")
        pictures()


if __name__ == "__main__":
    main()
