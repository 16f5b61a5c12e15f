"""The command line: the frame around the commands; what they print on standard output is the result, errors are one line."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence

from . import __version__
from .commands import COMMANDS
from .commands.command import DONE, FAILED
from .commands.output import error_line

CAUTION = "Never run a wheel above the speed marked on it. Guards closed, extraction on; the makers' instructions come first."


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command; 0 only when it did its job."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a console that cannot show µ or ³ shows ? instead of ending the command
            stream.reconfigure(errors="replace")
    chosen = parser().parse_args(arguments)
    try:
        state = chosen.run(chosen)
        sys.stdout.flush()
        return state
    except BrokenPipeError:  # a reader such as head has enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # nothing is left to complain at the end
        return DONE
    except (ValueError, OSError) as error:
        print(f"gritfuncs {chosen.command}: {error_line(error)}", file=sys.stderr)
        return FAILED


def parser() -> argparse.ArgumentParser:
    """The parser of the whole command line, made from the list of commands."""
    whole = argparse.ArgumentParser(
        prog="gritfuncs",
        description="Grit depth of plunge grinding: from a trial's readings to work speeds that hold the knee.",
        epilog=CAUTION,
    )
    whole.add_argument("--version", action="version", version=f"gritfuncs {__version__}")
    parsers = whole.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for command in COMMANDS:
        own = parsers.add_parser(command.name, help=command.help, description=command.description, epilog=CAUTION)
        command.add(own)
        own.set_defaults(run=command.run)
    return whole
