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

Made from the options of the commands. `gritfuncs COMMAND --help` shows the same. Results go to standard output; an error is one line on standard error: *which input, what it must be, what it was*. Numbers may have a decimal point or a decimal comma; lists are parted by semicolons (`0,3;0,6`), or by commas where decimals have points (`0.3,0.6`). A quantity may have its unit behind it (`"0.5 in"`, `15µm/s`): it is converted, and one that does not fit is refused. `gritfuncs-demo` is the folder that `gritfuncs demo` makes, `my-book.xlsx` a workbook of yours with functions `GRIT_...` in its cells. Nothing is ever overwritten; the record of knees alone is appended to, with a numbered backup beside it. The tab key completes commands and options in bash, zsh and fish once `gritfuncs[completion]` is installed and `eval "$(register-python-argcomplete gritfuncs)"` stands in the shell's start file. What `--json` prints is described, command by command, in [output.schema.json](output.schema.json).

{caution}

| command | what it does |
|---|---|
{commands}

## Exit codes

| code | meaning |
|---|---|
{codes}

## Setup options

Said once, in a file or in single options; every command that computes with a setup takes them: {takers}. Later places go before earlier ones: the setup of the record (`--record`), the trial file itself, `--setup` (several may be given), C and r of the record, single options. The report says where each value came from. How a setup file looks: [setup files](trial-files.md#setup-files).

| argument | meaning |
|---|---|
{setup}
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
    parsers = {command.name: _parser(command) for command in COMMANDS}
    takers = ", ".join(f"`{name}`" for name, parser in parsers.items() if parser.setup_arguments)
    setup = "\n".join(map(_row, parsers["knee"].setup_arguments))
    head = HEAD.format(caution=CAUTION.format(up=""), commands="\n".join(command_rows()), codes=codes, takers=takers, setup=setup)
    lines = [head]
    for command in COMMANDS:
        lines += [f"## gritfuncs {command.name}", "", command.description, ""]
        rows = [_row(action) for action in parsers[command.name].arguments]
        lines += ["| argument | meaning |", "|---|---|", *rows, ""] if rows else []
        lines += ["And the [setup options](#setup-options).", ""] if parsers[command.name].setup_arguments else []
        lines += _example(command)
        if command.remark:
            lines += [command.remark, ""]
    return "\n".join(lines).rstrip() + "\n"


def _parser(command: Command) -> Parser:
    parser = Parser(add_help=False)
    command.add(parser)
    return parser


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
