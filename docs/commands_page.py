"""docs/commands.md: a section for each command from the parser, with an example that is run."""

from __future__ import annotations

import argparse
from typing import NamedTuple

from doc_examples import run_command, scratch
from function_pages import CAUTION

from gritfuncs import cli
from gritfuncs.workbooks.templates import TEMPLATES


class Example(NamedTuple):
    command: str
    lines: int = 100  # of its output that stand below it, then ...; none where it names this machine
    printed: str = ""  # its output, where running it takes long


EXAMPLES: dict[str, Example] = {
    "demo": Example(
        "gritfuncs demo my-first-trial",
        printed="Invented example: carbide pin, ...\n...\nNext: open my-first-trial/trial.xlsx, ...",
    ),
    "plan": Example("gritfuncs plan --nominal-rpm 120 --steps-each-side 3 --highest-work-rpm 150"),
    "knee": Example("gritfuncs knee gritfuncs-demo/readings.csv", lines=12),
    "next": Example("gritfuncs next gritfuncs-demo/readings.csv --lowest-work-rpm 20 --highest-work-rpm 400"),
    "table": Example(
        "gritfuncs table --grit-depth 1.36 --work-diameters 12,20 --infeed-rates 0.3,0.6 --wheel-diameter 200 --wheel-speed 22 "
        "--marked-wheel-speed 35 --grit-density 18.9 --shape-ratio 10 --highest-work-rpm 300"
    ),
    "templates": Example("gritfuncs templates my-workbooks", printed="\n".join(f"my-workbooks/{name}" for name in TEMPLATES)),
    "share": Example("gritfuncs share my-book.xlsx"),
    "addin": Example("gritfuncs addin calc"),
    "check": Example("gritfuncs check", lines=0),
    "functions": Example("gritfuncs functions MRR"),
}
REMARKS = {
    "demo": "Never overwrites: without a name the folder is `gritfuncs-demo`, or `gritfuncs-demo-2` and so on.",
    "knee": "Which files it reads, and what may stand in them: [read_trial](functions/read_trial.md). How the knee is found: [the knee](knee.md).",
    "next": "The rule behind it: [the next reading](next-reading.md).",
    "table": "The same in Python: [speed_table](functions/speed_table.md). To fill in and print: "
    "[speed_table.xlsx](../workbook_templates/speed_table.xlsx).",
    "templates": "What they are for: [guide](../workbook_templates/README.md).",
    "share": "Before and after, and what cannot be replaced: [sharing](sharing.md).",
    "addin": "[Calc](calc.md), [Excel](excel.md).",
    "functions": "The same to read: [find a function](functions.md).",
}
HEAD = """# Commands

Made from the parser of the command line. `gritfuncs COMMAND --help` shows the same. Results go to standard output; an error is one line on standard error: *which input, what it must be, what it was*. The exit code is 0 only when the command did its job. `gritfuncs-demo` is the folder that `gritfuncs demo` makes, `my-book.xlsx` a workbook of yours with functions `GRIT_...` in its cells. Nothing is ever overwritten.

{caution}

| command | what it does |
|---|---|
"""


def parsers() -> dict[str, argparse.ArgumentParser]:
    """The parser of each command."""
    return next(action for action in cli._parser()._actions if isinstance(action, argparse._SubParsersAction)).choices


def command_rows(page: str = "") -> list[str]:
    """A row for each command, linked to its section."""
    return [
        f"| [`gritfuncs {name}`]({page}#gritfuncs-{name}) | {_first_sentence(parser)} |" for name, parser in parsers().items()
    ]


def commands_page() -> str:
    lines = [HEAD.format(caution=CAUTION.format(up="")) + "\n".join(command_rows()), ""]
    for name, parser in parsers().items():
        lines += [f"## gritfuncs {name}", "", parser.description, ""]
        rows = [_row(action) for action in parser._actions if action.dest != "help"]
        lines += ["| argument | meaning |", "|---|---|", *rows, ""] if rows else []
        lines += _example(EXAMPLES[name]) if name in EXAMPLES else []
        if name in REMARKS:
            lines += [REMARKS[name], ""]
    return "\n".join(lines).rstrip() + "\n"


def _first_sentence(parser: argparse.ArgumentParser) -> str:
    sentence = parser.description.partition(". ")[0].rstrip(".")
    return sentence[0].lower() + sentence[1:]


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


def _example(example: Example) -> list[str]:
    lines = ["```sh", example.command, "```", ""]
    if not example.lines:
        return lines
    if example.printed:
        printed = example.printed.splitlines()
    else:
        with scratch():
            printed = [line.rstrip() for line in run_command(example.command)[1].strip("\n").splitlines()]
        if len(printed) > example.lines:
            printed = printed[: example.lines] + ["..."]
    return lines + ["```text", *printed, "```", ""]
