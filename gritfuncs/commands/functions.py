"""gritfuncs functions"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from inspect import signature
from itertools import groupby

from ..finder import ENTRIES, Entry, nearest, search
from ..public import PUBLIC
from .command import DONE, Command


def add(parser: ArgumentParser) -> None:
    parser.add_argument(
        "words", nargs="*", metavar="WORD", help="name, symbol or shop word, such as rpm, h_m, MRR; all of several words must fit"
    )


def run(chosen: Namespace) -> int:
    words = " ".join(chosen.words)
    if not words.strip():
        for chapter, entries in groupby(ENTRIES, key=lambda entry: entry.chapter):
            print(f"\n{chapter}")
            print("\n".join(map(_listed, entries)))
        print("\ngritfuncs functions WORD explains; in a cell the name is GRIT_ and capitals, see there.")
        return DONE
    first, others = search(words)
    if not first and not others:
        near = ", ".join(nearest(words))
        raise ValueError(
            f"no function has {words!r} in its name, symbols or quantities "
            f"({f'nearest: {near}; ' if near else ''}gritfuncs functions lists all)"
        )
    explained = first or others
    print("\n\n".join(map(_explained, explained)))
    if first and others:
        print("\nIt is also an input or part of:")
        print("\n".join(map(_listed, others)))
    return DONE


def _listed(entry: Entry) -> str:
    units = dict.fromkeys(quantity.unit for quantity in entry.gives)
    return f"  {entry.name:<22} {entry.title}  [{', '.join(units)}]"


def _explained(entry: Entry) -> str:
    if entry.formula is None:
        cells = f"\n  in a cell: {', '.join(entry.cells)}" if entry.cells else ""
        names = ", ".join(signature(PUBLIC[entry.name]).parameters)
        return f"{entry.name}({names})\n  {entry.title}{cells}"
    formula = entry.formula
    names = ", ".join(quantity.name for quantity in formula.arguments)
    lines = [
        f"{formula.name}({names})",
        f"  {formula.title}",
        f"  in a cell: ={formula.sheet_name}({names})",
        f"  source: {formula.source}",
    ]
    for quantity in formula.arguments + (formula.gives,):
        unit = "" if quantity.unit == "-" else f" [{quantity.unit}]"
        arrow = "  -> " if quantity is formula.gives else "     "
        lines.append(f"{arrow}{quantity.name:<20} {quantity.symbol:<6} {quantity.label}{unit}, {quantity.requirement}")
    return "\n".join(lines)


COMMAND = Command(
    "functions",
    "list the functions, or explain those that words find",
    add,
    run,
    example="gritfuncs functions MRR",
    remark="The same to read: [find a function](functions.md).",
)
