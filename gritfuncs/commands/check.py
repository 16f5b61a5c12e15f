"""gritfuncs check"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from ..addins.check import no_add_in_state, python_state, report
from .addin import ADD_INS
from .command import DONE, Command


def add(parser: ArgumentParser) -> None:
    """No arguments."""


def run(chosen: Namespace) -> int:
    print(report([python_state(), *(host.state() for host in ADD_INS.values()), no_add_in_state()]))
    return DONE


COMMAND = Command(
    "check",
    "tell what is ready on this machine for each spreadsheet program, and the next step",
    add,
    run,
    example="gritfuncs check",
)
