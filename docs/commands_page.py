"""docs/commands.md: a section for each command from its options, with an example that is run."""

from __future__ import annotations

import argparse

from doc_examples import run_command, scratch
from function_pages import CAUTION

from gritfuncs.cli import STOPPED
from gritfuncs.commands import COMMANDS
from gritfuncs.commands.command import DONE, FAILED, Command
from gritfuncs.commands.parser import MISUSED, Parser
from gritfuncs.workbooks.templates import TEMPLATES

CUT = {
    "knee": 12,
    "log": 14,
    "check": 0,
}  # lines of the output that stand below the example, then ...; none where it names this machine
PRINTED = {  # the output, where running it takes long
    "demo": "Invented example: carbide pin, ...\n...\nNext: open my-first-trial/trial.xlsx, ...",
    "templates": "\n".join(f"my-workbooks/{name}" for name in TEMPLATES),
}
HEAD = """# Commands

Made from the options of the commands. `gritfuncs COMMAND --help` shows the same. Results go to standard output; an error is one line on standard error: *which input, what it must be, what it was*. Numbers may have a decimal point or a decimal comma; lists are parted by semicolons (`0,3;0,6`), or by commas where decimals have points (`0.3,0.6`). A quantity may have its unit behind it (`"0.5 in"`, `15µm/s`): it is converted, and one that does not fit is refused. `gritfuncs-demo` is the folder that `gritfuncs demo` makes, `my-book.xlsx` a workbook of yours with functions `GRIT_...` in its cells. Nothing is ever overwritten.

{caution}

| command | what it does |
|---|---|
{commands}

## Exit codes

| code | meaning |
|---|---|
{codes}
"""
CODES = {
    str(DONE): "the command did its job",
    str(
        FAILED
    ): "it did not, or not wholly: the line on standard error says why; `knee` with a file that cannot be read or has no "
    "usable reading, `share` with a call left or a value changed",
    str(MISUSED): "the command line was not understood: the line names the argument",
    str(STOPPED): "stopped by Ctrl-C; unfinished files are taken away",
}


def command_rows(page: str = "") -> list[str]:
    """A row for each command, linked to its section."""
    return [f"| [`gritfuncs {command.name}`]({page}#gritfuncs-{command.name}) | {command.help} |" for command in COMMANDS]


def commands_page() -> str:
    codes = "\n".join(f"| {code} | {meaning} |" for code, meaning in CODES.items())
    lines = [HEAD.format(caution=CAUTION.format(up=""), commands="\n".join(command_rows()), codes=codes)]
    for command in COMMANDS:
        lines += [f"## gritfuncs {command.name}", "", command.description, ""]
        rows = [_row(action) for action in _arguments(command)]
        lines += ["| argument | meaning |", "|---|---|", *rows, ""] if rows else []
        lines += _example(command)
        if command.remark:
            lines += [command.remark, ""]
    return "\n".join(lines).rstrip() + "\n"


def _arguments(command: Command) -> list[argparse.Action]:
    parser = Parser(add_help=False)
    command.add(parser)
    return parser.arguments


def _row(action: argparse.Action) -> str:
    placeholder = action.metavar or (
        "" if action.nargs == 0 else "|".join(map(str, action.choices)) if action.choices else action.dest.upper()
    )
    if action.option_strings:
        shown = f"{action.option_strings[0]} {placeholder}".strip()
    else:
        shown = {"?": f"[{placeholder}]", "*": f"[{placeholder} ...]", "+": f"{placeholder} ..."}.get(action.nargs, placeholder)
    meaning = (action.help or "") % dict(vars(action), prog="gritfuncs")
    needed = "; must be given" if action.option_strings and action.required else ""
    return "| `{}` | {}{} |".format(shown.replace("|", "\\|"), meaning, needed)


def _example(command: Command) -> list[str]:
    lines = ["```sh", command.example, "```", ""]
    most = CUT.get(command.name, 100)
    if not most:
        return lines
    if command.name in PRINTED:
        printed = PRINTED[command.name].splitlines()
    else:
        with scratch():
            printed = [line.rstrip() for line in run_command(command.example)[1].strip("\n").splitlines()]
        if len(printed) > most:
            printed = printed[:most] + ["..."]
    return lines + ["```text", *printed, "```", ""]
