"""What documents show is run: Python blocks, command lines, and formulas of cells with numbers in them."""

from __future__ import annotations

import ast
import contextlib
import doctest
import io
import os
import re
import shlex
import shutil
import tempfile
import tokenize
from functools import lru_cache
from pathlib import Path
from textwrap import dedent
from typing import Any, NamedTuple

import openpyxl

from gritfuncs import cli, demo, example
from gritfuncs.addins.functions import FUNCTIONS
from gritfuncs.commands.demo import FOLDER

_BLOCK = re.compile(
    r"(?:^ *<!-- not run: (?P<reason>[^>]+) -->\n)?^ *```(?P<language>\w+)\n(?P<text>.*?)^ *```\n"
    r"(?:\n? *```text\n(?P<printed>.*?)^ *```$)?",
    re.MULTILINE | re.DOTALL,
)
_FORMULA = re.compile(r"`=(GRIT_\w+)\(([^`]*)\)`(?: \| ([^|\n]*))?")
_PLAIN_ARGUMENT = re.compile(r'[-+]?\d+(?:\.\d+)?|"[^"]*"')
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")


class Block(NamedTuple):
    """A fenced block, the reason why it cannot be run here if the page gives one, and the output shown right below it."""

    language: str
    text: str
    reason: str | None
    printed: str | None


class CellLine(NamedTuple):
    """A call typed into a cell with numbers only, and the result shown in the next column of the table, if any."""

    name: str
    arguments: tuple[Any, ...]
    shown: str | None


def blocks(page: str) -> list[Block]:
    return [
        Block(found["language"], dedent(found["text"]), found["reason"], found["printed"] and dedent(found["printed"]))
        for found in _BLOCK.finditer(page)
    ]


def run_python(block: Block, names: dict[str, Any]) -> tuple[int, str]:
    """Run a block statement by statement; returns how many results shown in comments were compared, and what it printed."""
    comments = {
        token.start[0]: token.string.lstrip("# ")
        for token in tokenize.generate_tokens(io.StringIO(block.text).readline)
        if token.type == tokenize.COMMENT
    }
    compared = 0
    with contextlib.redirect_stdout(io.StringIO()) as said:
        for statement in ast.parse(block.text).body:
            if not isinstance(statement, ast.Expr):
                exec(compile(ast.Module([statement], []), "document", "exec"), names)
                continue
            value = eval(compile(ast.Expression(statement.value), "document", "eval"), names)
            shown = comments.get(statement.end_lineno)
            if shown and value is not None:
                _compare(value, shown)
                compared += 1
    return compared, said.getvalue()


def _compare(value: Any, shown: str) -> None:
    if shown == repr(value):
        return
    values = value if isinstance(value, tuple) else (value,)
    parts = shown.split(", ", len(values) - 1)
    assert len(parts) == len(values), f"{value!r} is shown as {shown!r}"
    for one, part in zip(values, parts):
        if isinstance(one, (int, float)) and not isinstance(one, bool):
            assert equal_as_shown(one, part), f"{one!r} is shown as {part!r}"
        else:
            assert part.startswith(repr(one)) or part == str(one), f"{one!r} is shown as {part!r}"


def equal_as_shown(value: float, shown: str) -> bool:
    """True when the number at the beginning of the text is the value, rounded to the digits shown."""
    number = _NUMBER.match(shown)
    if not number:
        return False
    mantissa, _, exponent = number[0].lower().partition("e")
    last_digit = 10.0 ** (int(exponent or 0) - len(mantissa.partition(".")[2]))
    return abs(value - float(number[0])) <= 0.5001 * last_digit


def commands(block: Block) -> list[str]:
    """The lines of a block that call gritfuncs."""
    return [line for line in block.text.replace("\\\n", " ").splitlines() if line.startswith("gritfuncs ")]


def run_command(line: str) -> tuple[int, str]:
    """Exit code and standard output of one command line."""
    with contextlib.redirect_stdout(io.StringIO()) as said:
        code = cli.main(shlex.split(line, comments=True)[1:])
    return code, said.getvalue()


def assert_printed(shown: str, printed: str) -> None:
    """The output is the one shown; `...` in it stands for anything."""
    assert doctest.OutputChecker().check_output(shown, printed, doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE), (
        f"shown:\n{shown}\nprinted:\n{printed}"
    )


def cell_lines(page: str) -> list[CellLine]:
    """The calls of cells with numbers and texts only; a semicolon between arguments makes a comma a decimal sign."""
    found = []
    for name, typed, shown in _FORMULA.findall(page):
        semicolons = ";" in typed
        parts = [
            part.strip().replace(",", ".") if semicolons else part.strip() for part in typed.split(";" if semicolons else ",")
        ]
        if typed and all(_PLAIN_ARGUMENT.fullmatch(part) for part in parts):
            if semicolons and re.match(r"-?\d+,\d", shown):
                shown = shown.replace(",", ".", 1)
            found.append(CellLine(name, tuple(ast.literal_eval(part) for part in parts), shown.strip() or None))
    return found


def cell_value(line: CellLine) -> Any:
    return _FUNCTIONS[line.name].call(*(float(value) if isinstance(value, int) else value for value in line.arguments))


_FUNCTIONS = {function.sheet_name: function for function in FUNCTIONS}


@lru_cache(maxsize=None)
def _demo_files() -> tempfile.TemporaryDirectory:
    """The folder gritfuncs-demo, made once."""
    folder = tempfile.TemporaryDirectory(prefix="documents-")
    demo.run(Path(folder.name) / FOLDER, lambda text: None)
    return folder


def _own_book(path: Path) -> None:
    """A workbook as an engineer fills it: three setups with a function in the cells."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["work diameter, mm", "work rpm, 1/min", "work speed, m/min"])
    for row, setup in enumerate(((12.0, 180.0), (20.0, 103.0), (32.0, 61.0)), 2):
        sheet.append([*setup, f"=GRIT_WORK_SPEED(A{row},B{row})"])
    book.save(path)


@contextlib.contextmanager
def scratch():
    """Work in a new folder that holds gritfuncs-demo, my-book.xlsx and my-sheet.csv, a shop's own sheet of its readings."""
    before = os.getcwd()
    with tempfile.TemporaryDirectory(prefix="examples-") as folder:
        shutil.copytree(Path(_demo_files().name) / FOLDER, Path(folder) / FOLDER)
        rows = [f"{rpm:g};{power:.2f};{idle:.2f}".replace(".", ",") for rpm, power, idle in example.readings()]
        (Path(folder) / "my-sheet.csv").write_text("\n".join(["Drehzahl;Spindel kW;Leerlauf kW", *rows, ""]), encoding="utf-8")
        _own_book(Path(folder) / "my-book.xlsx")
        os.chdir(folder)
        try:
            yield Path(folder)
        finally:
            os.chdir(before)
