"""Regenerate what documents show of the code: python3 docs/build.py [--pictures].

Writes the list of functions in README.md and docs/functions.md from the catalogue and the built workbooks; with
--pictures also the pictures of their sheets (needs LibreOffice and pdftoppm).  The tests compare all but the pictures.
"""
import argparse
import subprocess
import sys
import tempfile
from pathlib import Path

DOCS = Path(__file__).resolve().parent
ROOT = DOCS.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import openpyxl  # noqa: E402

from gritfuncs import example  # noqa: E402
from gritfuncs.formulas import catalogue  # noqa: E402
from gritfuncs.workbooks.ooxml import save_workbook  # noqa: E402
from gritfuncs.workbooks.templates import TEMPLATES, save, trial  # noqa: E402

BEGIN, END = "<!-- functions -->\n", "<!-- end of functions -->"
KNEE_ROW = ("| `find_knee(depths, energies)` | `GRIT_KNEE`, `_LOW`, `_HIGH`, `_LEVEL`, `_VERDICT`, `_REPORT` | "
            "knee of a trial, its interval, level and verdict | µm |\n"
            "| `next_reading(depths, energies, setup, limits)` | `GRIT_NEXT_RPM` | which work rpm to try next in a trial, or stop | 1/min |")
FRONT_PICTURE = ("trial.xlsx", "Results", 110)  # of the README, with its resolution
FRONT_CROP = ("-x", "30", "-y", "50", "-W", "1230", "-H", "545")  # without the empty foot of the page
RESOLUTION = 70  # dots per inch of the gallery


def arguments(formula) -> str:
    return ", ".join(quantity.name for quantity in formula.arguments)


def readme_functions() -> str:
    """The table of all functions for the README."""
    rows = ["| in Python | in a cell | gives | unit |", "|---|---|---|---|"]
    rows += [f"| `{formula.name}({arguments(formula)})` | `{formula.sheet_name}` | {formula.title[0].lower() + formula.title[1:]} | "
             f"{formula.gives.unit} |" for formula in catalogue]
    return "\n".join(rows + [KNEE_ROW]) + "\n"


def with_functions(readme: str) -> str:
    head, _, rest = readme.partition(BEGIN)
    return head + BEGIN + readme_functions() + END + rest.partition(END)[2]


def functions_page() -> str:
    """docs/functions.md: every formula with equation, units, limits, source and lines to copy."""
    lines = ["# Functions", "", "Made from the catalogue by `docs/build.py`. Units are those of the shop; nothing converts in silence. "
             "Infeed rates count on the radius. Grit depth has the prefactor 4 (Kalpakjian & Schmid, Example 25.1).", "",
             "In a cell, arguments are separated by commas or, where the comma is the decimal sign, by semicolons.", ""]
    for formula in catalogue:
        lines += [f"## {formula.name}", "", formula.description, "", f"$${formula.equation}$$", "",
                  "| argument | symbol | unit | must be | what it is |", "|---|---|---|---|---|"]
        lines += [f"| `{quantity.name}` | {quantity.symbol} | {quantity.unit} | {quantity.requirement} | {quantity.help} |"
                  for quantity in formula.arguments]
        lines += [f"| gives `{formula.gives.name}` | {formula.gives.symbol} | {formula.gives.unit} | {formula.gives.requirement} | "
                  f"{formula.gives.help} |", ""]
        inputs = {name: value for name, value in formula.example.items() if name != formula.gives.name}
        call = ", ".join(f"{name}={value!r}" for name, value in inputs.items())
        cells = [f'"{value}"' if isinstance(value, str) else f"{value:.15g}" for value in inputs.values()]
        lines += ["```text", f"Python   gf.{formula.name}({call})",
                  f"cell     ={formula.sheet_name}({','.join(cells)})",
                  f"cell     ={formula.sheet_name}({';'.join(cell.replace('.', ',') for cell in cells)})",
                  f"result   {formula.example[formula.gives.name]:.8g} {formula.gives.unit}", "```", "", f"Source: {formula.source}.", ""]
    return "\n".join(lines).rstrip() + "\n"


def picture_name(book: str, sheet: str) -> str:
    return f"{Path(book).stem}-{sheet}".lower().replace(" ", "-").replace("_", "-") + ".png"


def sheets(book: str) -> list:
    return openpyxl.load_workbook(ROOT / "workbook_templates" / book, read_only=True).sheetnames


def gallery_page() -> str:
    """docs/workbooks.md: every sheet of every workbook as a picture."""
    lines = ["# The workbooks in pictures", "", "First page of each sheet as LibreOffice prints it, with the invented example. Made by "
             "`python3 docs/build.py --pictures`. What the workbooks are for: [guide](../workbook_templates/README.md).", ""]
    for book in TEMPLATES:
        lines += [f"## {book}", ""]
        for sheet in sheets(book):
            lines += [f"### {sheet}", "", f"![{book}, sheet {sheet}](pictures/{picture_name(book, sheet)})", ""]
    return "\n".join(lines).rstrip() + "\n"


def pictures() -> None:
    from libreoffice import LibreOffice

    folder = DOCS / "pictures"
    folder.mkdir(exist_ok=True)
    with LibreOffice() as office:
        def draw(book: str, sheet: str, resolution: int, target: Path, crop: tuple = ()) -> None:
            print(target.relative_to(ROOT), flush=True)
            with tempfile.TemporaryDirectory() as scratch:
                filled = Path(scratch) / book
                if book == "trial.xlsx":  # the shipped one holds no readings
                    save_workbook(trial.build(dict(readings=example.readings())), filled)
                else:
                    save(book, filled)
                pdf = office.convert(filled, Path(scratch) / f"{Path(book).stem}.pdf", sheets=[sheet])
                subprocess.run(["pdftoppm", "-png", "-r", str(resolution), "-f", "1", "-singlefile", *crop, str(pdf),
                                str(target.with_suffix(""))], check=True)

        book, sheet, resolution = FRONT_PICTURE
        draw(book, sheet, resolution, DOCS / picture_name(book, sheet), FRONT_CROP)
        wanted = {picture_name(book, sheet): (book, sheet) for book in TEMPLATES for sheet in sheets(book)}
        for book in TEMPLATES:
            for old in folder.glob(picture_name(book, "*")):
                if old.name not in wanted:
                    old.unlink()
        for name, (book, sheet) in wanted.items():
            draw(book, sheet, RESOLUTION, folder / name)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pictures", action="store_true", help="also the pictures (needs LibreOffice and pdftoppm)")
    chosen = parser.parse_args()
    readme = ROOT / "README.md"
    readme.write_text(with_functions(readme.read_text(encoding="utf-8")), encoding="utf-8")
    (DOCS / "functions.md").write_text(functions_page(), encoding="utf-8")
    for name in TEMPLATES:
        print(f"workbook_templates/{name}", flush=True)
        save(name, ROOT / "workbook_templates" / name)
    (DOCS / "workbooks.md").write_text(gallery_page(), encoding="utf-8")
    if chosen.pictures:
        pictures()


if __name__ == "__main__":
    main()
