"""The parser of a command: it knows its arguments by the names that the code uses, and says what is wrong in one line."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import Any, NoReturn

MISUSED = 2  # exit code of a command line that is not understood, as argparse has it


class Parser(argparse.ArgumentParser):
    """As argparse's own, with its `arguments` in the open and errors of one line."""

    def __init__(self, **options: Any):
        self.arguments: list[argparse.Action] = []
        self.setup_arguments: list[argparse.Action] = []  # those of a setup, which several commands have
        super().__init__(exit_on_error=False, **options)

    def add_argument(self, *given: Any, **options: Any) -> argparse.Action:
        self.arguments.append(super().add_argument(*given, **options))
        return self.arguments[-1]

    def add_setup_group(self) -> Callable[..., None]:
        """A function that adds arguments under a heading of their own, as `add_argument` does."""
        group = self.add_argument_group("setup", "What stays the same in a trial; the report says where each value came from.")

        def add(*given: Any, **options: Any) -> None:
            self.setup_arguments.append(group.add_argument(*given, **options))

        return add

    def as_typed(self, name: str) -> str:
        """What the usage calls an input that the code knows by this name; the name itself where there is no such argument."""
        for action in self.arguments:
            if action.dest in (name, name + "s"):  # infeed_rates: a list of infeed_rate
                return action.option_strings[0] if action.option_strings else str(action.metavar or name)
        return name

    def parse_known_args(self, *given: Any, **options: Any) -> Any:
        try:
            return super().parse_known_args(*given, **options)
        except argparse.ArgumentError as error:
            if error.message.startswith("must "):
                self.exit(MISUSED, f"{self.prog}: {error.argument_name} {error.message}\n")
            self.error(f"{error.argument_name}: {error.message}" if error.argument_name else error.message)

    def parse_args(self, *given: Any, **options: Any) -> Any:
        chosen, left = self.parse_known_args(*given, **options)
        if left:  # newer Pythons raise what older ones told
            self.error(f"unrecognized arguments: {' '.join(left)}")
        return chosen

    def error(self, message: str) -> NoReturn:
        self.exit(MISUSED, f"{self.prog}: {message}; see {self.prog} --help\n")
