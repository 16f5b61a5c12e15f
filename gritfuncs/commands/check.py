"""gritfuncs check"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from .command import DONE, Command


def add(parser: ArgumentParser) -> None:
    """No arguments."""


def run(chosen: Namespace) -> int:
    from ..addins.check import report

    print(report())
    return DONE


COMMAND = Command(
    "check",
    "tell what is ready on this machine for each spreadsheet program, and the next step",
    add,
    run,
    example="gritfuncs check",
)
