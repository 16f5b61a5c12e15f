"""What a command is: a name, a sentence, the options it adds to its parser, and what it does with them."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import dataclass
from typing import Callable

from .parser import Parser

DONE, FAILED = 0, 1


@dataclass(frozen=True)
class Command:
    """A command of the command line.

    help : what it does, one sentence in small letters
    add : adds its arguments to the parser of the command
    run : does it with the arguments chosen, prints the result and gives DONE or FAILED
    example : a line to copy, shown on the page of commands with what it prints
    details : more sentences for its own help
    remark : a sentence for the page of commands, with links
    """

    name: str
    help: str
    add: Callable[[Parser], None]
    run: Callable[[Namespace], int]
    example: str
    details: str = ""
    remark: str = ""

    @property
    def description(self) -> str:
        return f"{self.help[0].upper()}{self.help[1:]}. {self.details}".strip()
