"""The command line: the frame around the commands; what they print on standard output is the result, errors are one line."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

from . import __version__
from .commands import COMMANDS
from .commands.command import DONE, FAILED
from .commands.output import error_line
from .commands.parser import Parser
from .sheets.words import CAUTION

STOPPED = 130  # exit code after Ctrl-C, as shells have it


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command; 0 only when it did its job."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a console that cannot show µ or ³ shows ? instead of ending the command
            stream.reconfigure(errors="replace")
    whole = parser()
    if "_ARGCOMPLETE" in os.environ:  # a shell asks what could stand next
        import argcomplete

        argcomplete.autocomplete(whole)
    chosen = whole.parse_args(arguments)
    if chosen.command is None:
        whole.print_help()
        return DONE
    try:
        state = chosen.run(chosen)
        sys.stdout.flush()
        return state
    except BrokenPipeError:  # a reader such as head has enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # nothing is left to complain at the end
        return DONE
    except (ValueError, OSError) as error:
        return _failed(chosen.command, error_line(error, chosen.parser.as_typed), FAILED)
    except KeyboardInterrupt:
        return _failed(chosen.command, "stopped", STOPPED)


def _failed(command: str, line: str, state: int) -> int:
    print(f"gritfuncs {command}: {line}", file=sys.stderr)
    return state


def parser() -> Parser:
    """The parser of the whole command line, made from the list of commands."""
    whole = Parser(
        prog="gritfuncs",
        description="Grit depth of plunge grinding: from a trial's readings to work speeds that hold the knee.",
        epilog=CAUTION,
    )
    whole.add_argument("--version", action="version", version=f"gritfuncs {__version__}")
    parsers = whole.add_subparsers(dest="command", metavar="COMMAND")
    for command in COMMANDS:
        own = parsers.add_parser(command.name, help=command.help, description=command.description, epilog=CAUTION)
        command.add(own)
        own.set_defaults(run=command.run, parser=own)
    return whole
