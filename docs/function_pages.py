"""The pages of the functions, docs/functions/NAME.md, and their index docs/functions.md, from the catalogue."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache
from unittest import mock

from function_pictures import telling_of
from tool_pages import tool_page

from gritfuncs.finder import ENTRIES, Entry
from gritfuncs.formulas import catalogue
from gritfuncs.quantities import QUANTITIES
from gritfuncs.quantity import Quantity
from gritfuncs.registry import Formula
from gritfuncs.sheets import words as sentences
from gritfuncs.workbooks.templates import TEMPLATES

CAUTION = f"{sentences.CAUTION.rstrip('.')} ([safety]({{up}}safety.md))."
FIRST_ROW = 2  # of the cells in which the native formula finds its inputs
CHAPTERS = {
    "speeds": "Speeds",
    "geometry": "Contact",
    "removal": "Removal rate",
    "wheel": "Grits of the wheel",
    "depth": "Grit depth",
    "inverse": "Solved back for a grit depth",
    "chips": "Chips",
    "energy": "Power, force and energy",
    "wear": "Wear",
    "heat": "Heat and burn",
    "trial": "Trial",
    "knee": "Knee",
    "planning": "Planning",
}
RADIUS = f"**Radius.** {sentences.DIAMETER_SHOWS_TWICE}: halve it on the way in, double it on the way out."
PREFACTOR = f"**Prefactor 4.** {sentences.PREFACTOR}"
PRODUCT = f"**C and r.** {sentences.PRODUCT}. Where C is not known, keep any fixed value for this wheel."
COUNTED = "**C itself counts here**, not the product C r: a guessed C gives a guessed result."
MARKED = (
    "**The formula knows no limit of your wheel.** Compare the result with the speed marked on the wheel and with the spindle's "
    "highest rpm before you use it."
)


def glossary_anchor(quantity: Quantity) -> str:
    return re.sub(r"[^\w\- ]", "", quantity.label.lower()).replace(" ", "-")


def number(value) -> str:
    return value if isinstance(value, str) else f"{value:.15g}"


def in_cell(value) -> str:
    return f'"{value}"' if isinstance(value, str) else number(value)


def inputs_of(formula: Formula) -> dict:
    return {quantity.name: formula.example[quantity.name] for quantity in formula.arguments}


def result_of(formula: Formula) -> str:
    return f"{formula.example[formula.gives.name]:.6g}"


def addresses(formula: Formula) -> dict[str, str]:
    return {quantity.name: f"B{row}" for row, quantity in enumerate(formula.arguments, FIRST_ROW)}


@lru_cache(maxsize=None)
def used_in_workbooks() -> dict[str, tuple[str, ...]]:
    """The workbooks that each formula stands in, seen while they are built."""
    used: dict[str, list[str]] = {formula.name: [] for formula in catalogue}
    for book, build in TEMPLATES.items():
        seen = set()

        def text(formula, seen=seen, original=Formula.text, **cells):
            seen.add(formula.name)
            return original(formula, **cells)

        with mock.patch.object(Formula, "text", text):
            build()
        for name in seen | (set(used) if book == "functions.xlsx" else set()):
            used[name].append(book)
    used["mean_grit_size"] = [book for book in TEMPLATES if book != "knee_record.xlsx"]  # a look-up in their sheet Grit sizes
    return {name: tuple(books) for name, books in used.items()}


def inverses(formula: Formula) -> list[Formula]:
    """The formulas that give one of its arguments from its result and the other arguments."""
    names = {quantity.name for quantity in formula.arguments}
    return [
        other
        for other in catalogue
        if other.gives.name in names
        and {quantity.name for quantity in other.arguments} == names - {other.gives.name} | {formula.gives.name}
    ]


def links(formulas: Iterable, folder: str = "") -> str:
    return ", ".join(f"[{formula.name}]({folder}{formula.name}.md)" for formula in formulas)


def notes(formula: Formula) -> list[str]:
    """The warnings that its words call for."""
    names = {quantity.name for quantity in formula.arguments + (formula.gives,)}
    return [
        note
        for note, wanted in (
            (RADIUS, "infeed_rate" in names),
            (PREFACTOR, "grit_depth" in names),
            (PRODUCT, {"grit_density", "shape_ratio"} <= names or formula.gives.name == "grit_density"),
            (COUNTED, "grit_density" in {quantity.name for quantity in formula.arguments} and "shape_ratio" not in names),
            (MARKED, formula.gives.name in ("wheel_speed", "wheel_rpm")),
        )
        if wanted
    ]


def argument_rows(formula: Formula) -> list[str]:
    cells = addresses(formula)
    rows = ["| argument | symbol | unit | must be | usual | cell | what it is |", "|---|---|---|---|---|---|---|"]
    for quantity in formula.arguments + (formula.gives,):
        is_result = quantity is formula.gives
        usual = "{:g} to {:g}".format(*quantity.usual) if quantity.usual else ""
        rows.append(
            f"| {'gives ' if is_result else ''}[`{quantity.name}`](../glossary.md#{glossary_anchor(quantity)}) | {quantity.symbol} | "
            f"{quantity.unit} | {quantity.requirement} | {usual} | {'' if is_result else cells[quantity.name]} | {quantity.help} |"
        )
    return rows


def copy_lines(formula: Formula) -> list[str]:
    inputs, shown, unit = (inputs_of(formula), result_of(formula), "" if formula.gives.unit == "-" else f" {formula.gives.unit}")
    call = ", ".join(f"{name}={in_cell(value)}" for name, value in inputs.items())
    cells = [in_cell(value) for value in inputs.values()]
    with_commas = [cell.replace(".", ",") for cell in cells]
    lines = [
        "## To copy",
        "",
        "```python",
        "import gritfuncs as gf",
        "",
        f"gf.{formula.name}({call})  # {shown}{unit}",
        "```",
        "",
        f"| in a cell | type | result{',' + unit if unit else ''} |",
        "|---|---|---|",
    ]
    typed = {}  # what to type, where; one argument, or whole numbers, read the same in several places
    for where, separator, texts in (
        ("Excel, decimal point", ",", cells),
        ("Calc, decimal point", ";", cells),
        ("Excel and Calc, decimal comma", ";", with_commas),
    ):
        typed.setdefault(f"={formula.sheet_name}({separator.join(texts)})", []).append(where)
    for call, places in typed.items():
        result = shown.replace(".", ",") if places == ["Excel and Calc, decimal comma"] else shown
        lines.append(f"| {'; '.join(places) if len(typed) > 1 else 'Excel and Calc'} | `{call}` | {result} |")
    if formula.native:
        native = formula.text(**addresses(formula))
        places = f"B{FIRST_ROW}" if len(cells) == 1 else f"B{FIRST_ROW} to B{FIRST_ROW + len(cells) - 1}"
        lines += [
            f"| no add-in, inputs in {places} | `={native}` | {shown} |",
            "",
            "The last line is what `gritfuncs share` writes. It refuses nothing: a blank counts as 0 ([sharing](../sharing.md))."
            + "".join(
                f" Where the comma is the decimal sign, write {found.replace('.', ',')} for {found}."
                for found in re.findall(r"\d+\.\d+", native)[:1]
            ),
        ]
    else:
        lines += [
            "",
            "A look-up has no native formula. `gritfuncs share` puts the size itself in place of a call with a text, and a look-up in a "
            "sheet of its own in place of a call with a cell ([sharing](../sharing.md)). It is not among the names for Excel 365.",
        ]
    return lines + ["", "How the functions get into the cells: [Excel](../excel.md), [Calc](../calc.md)."]


def related_lines(formula: Formula) -> list[str]:
    others = [other for other in catalogue if other is not formula]
    lines = ["## Related", ""]
    turned = inverses(formula)
    if turned:
        lines.append(f"- Solved for another quantity: {links(turned)}.")
    sources = {
        quantity: [other for other in others if other.gives is quantity and other not in turned] for quantity in formula.arguments
    }
    for quantity, found in sources.items():
        if found:
            lines.append(f"- `{quantity.name}` comes from {links(found)}.")
    takers = [other for other in others if formula.gives in other.arguments and other not in turned]
    if takers:
        lines.append(f"- The result goes into {links(takers)}.")
    books = [f"[{book}](../../workbook_templates/{book})" for book in used_in_workbooks()[formula.name]]
    lines.append(f"- In the workbooks: {', '.join(books)}.")
    also = [word for quantity in (formula.gives,) + formula.arguments for word in quantity.also]
    if also:
        lines.append(f"- Found by `gritfuncs functions WORD` with words such as {', '.join(dict.fromkeys(also[:8]))}.")
    return lines


def formula_page(formula: Formula) -> str:
    title, _, remarks = formula.description.partition("\n\n")
    lines = [f"# {formula.name}", "", title, "", f"$${formula.equation}$$", "", CAUTION.format(up="../"), ""]
    lines += argument_rows(formula) + [""]
    lines += [f"Together: {relation.text}.\n" for relation in formula.relations]
    lines += copy_lines(formula) + [""]
    lines += ["## When it holds", "", " ".join(remarks.split()) or HOLDS.get(formula.name, "As the source says."), ""]
    for note in notes(formula):
        lines += [note, ""]
    named = "definition" in formula.source.reference or "(seen)" in formula.source.reference or not formula.source.seen
    lines += [
        f"Source: {formula.source}{'' if named else ' (seen)'}.",
        "",
        f"![{picture_text(formula)}](pictures/{formula.name}.png)",
        "",
    ]
    return "\n".join(lines + related_lines(formula)).rstrip() + "\n"


def picture_text(formula: Formula) -> str:
    if formula.name == "mean_grit_size":
        return "mean size and the two sieve apertures over the number in the designation"
    telling = telling_of(formula).argument
    return f"{formula.gives.label} over {QUANTITIES[telling].label}; the dot is the example above"


# What the functions' own remarks leave unsaid.
HOLDS = {
    "work_speed": "Always: it is the definition. For flat grinding the work speed is the table speed, and there is no rpm.",
    "work_rpm": "Always: it is the definition turned round.",
    "speed_ratio": "Always: it is the definition. Both speeds count without their sign.",
    "pass_removal_rate": "Once the depth of cut is steady, over the width that is ground.",
    "equivalent_thickness": "Always: it is the definition. It is no depth of a grit: no grits are in it.",
    "work_speed_for": "As grit_depth, of which it is the inverse.",
    "chip_rate": "If each active grit that passes forms one chip.",
    "chip_volume": "If each active grit that passes forms one chip.",
    "specific_energy": "With the idle power taken off, over the width that is ground.",
    "grinding_power": "As far as the specific energy holds: near the grit depth where it was measured, with the wheel in the same state.",
    "tangential_force": "As far as the net power is known: it is the definition of power turned round.",
    "ring_volume": "Always: it is the volume of a ring. The diameters are before and after.",
    "wheel_wear": "As far as the grinding ratio holds: for the wheel, work and conditions where it was measured.",
}


def pages() -> dict[str, str]:
    """The text of every function's page by its name."""
    return {
        entry.name: formula_page(entry.formula) if entry.formula else tool_page(entry, CAUTION.format(up="../"))
        for entry in ENTRIES
    }


def entry_links(entries: Iterable[Entry]) -> str:
    return links(entries, "functions/")


def units(entry: Entry) -> str:
    return ", ".join(dict.fromkeys(quantity.unit for quantity in entry.gives))


def index_page() -> str:
    """docs/functions.md: three ways to find a function, then all of them."""
    lines = [
        "# Find a function",
        "",
        "Three ways: [what you want](#by-what-you-want), [its symbol](#by-symbol), [a word](#by-word). Or ask: "
        "`gritfuncs functions chip thickness`. All of them by chapter stand [at the end](#all-functions). What the words mean: "
        "[glossary](glossary.md).",
        "",
        CAUTION.format(up=""),
        "",
        "## By what you want",
        "",
        "| I want | from | function |",
        "|---|---|---|",
    ]
    wanted = [(quantity, entry) for entry in ENTRIES for quantity in entry.gives]
    for quantity, entry in sorted(wanted, key=lambda pair: pair[0].label.lower()):
        have = ", ".join(taken.label for taken in entry.takes)
        lines.append(
            f"| {quantity.label}{'' if quantity.unit == '-' else ', ' + quantity.unit} | {have} | {entry_links([entry])} |"
        )
    lines += ["", "## By symbol", "", "| symbol | is | given by | taken by |", "|---|---|---|---|"]
    for quantity in sorted(QUANTITIES.values(), key=lambda word: (word.symbol.lower(), word.symbol)):
        gives, takes = given_and_taken(quantity)
        lines.append(
            f"| {quantity.symbol} | [{quantity.label}](glossary.md#{glossary_anchor(quantity)}) | {entry_links(gives)} | "
            f"{entry_links(takes)} |"
        )
    lines += [
        "",
        "Typed forms such as `Qw`, `Q'w`, `hm`, `d_eq` find the same with `gritfuncs functions`.",
        "",
        "## By word",
        "",
        "| word | is | functions |",
        "|---|---|---|",
    ]
    for word, places in sorted(words().items(), key=lambda item: item[0].lower()):
        lines.append(
            f"| {word} | {', '.join(dict.fromkeys(place for place, _ in places))} | "
            f"{entry_links(dict.fromkeys(entry for _, entries in places for entry in entries))} |"
        )
    lines += [
        "",
        "## All functions",
        "",
        "In a cell, arguments are separated by commas or, where the comma is the decimal sign, by semicolons. "
        "Units are those of the shop; nothing converts in silence.",
        "",
    ]
    for chapter, heading in CHAPTERS.items():
        lines += [f"### {heading}", "", "| in Python | in a cell | gives | unit |", "|---|---|---|---|"]
        lines += [
            f"| [{entry.name}](functions/{entry.name}.md) | {', '.join(f'`{cell}`' for cell in entry.cells)} | {lower(entry.title)} | "
            f"{units(entry)} |"
            for entry in ENTRIES
            if entry.chapter == chapter
        ]
        lines.append("")
    return "\n".join(lines).rstrip() + "\n"


def lower(title: str) -> str:
    return title if title.startswith("Peclet") else title[0].lower() + title[1:]


def given_and_taken(quantity: Quantity) -> tuple[list[Entry], list[Entry]]:
    return [entry for entry in ENTRIES if quantity in entry.gives], [entry for entry in ENTRIES if quantity in entry.takes]


def words() -> dict[str, list[tuple[str, list[Entry]]]]:
    """Every label, name and shop word: what it is, and the functions that give it, or take it where none gives it."""
    found: dict[str, list[tuple[str, list[Entry]]]] = {}
    for quantity in QUANTITIES.values():
        gives, takes = given_and_taken(quantity)
        place = f"[{quantity.symbol}](glossary.md#{glossary_anchor(quantity)})"
        for word in dict.fromkeys((quantity.label, quantity.name.replace("_", " ")) + quantity.also):
            found.setdefault(word, []).append((place, gives or takes))
    for entry in ENTRIES:
        for word in entry.also:
            found.setdefault(word, []).append((f"[{entry.name}](functions/{entry.name}.md)", [entry]))
    return found


def readme_functions() -> str:
    """The functions by chapter, for the README."""
    rows = ["| about | functions |", "|---|---|"]
    rows += [
        f"| {heading.lower()} | {', '.join(f'[`{entry.name}`](docs/functions/{entry.name}.md)' for entry in ENTRIES if entry.chapter == chapter)} |"
        for chapter, heading in CHAPTERS.items()
    ]
    return "\n".join(rows) + "\n"
