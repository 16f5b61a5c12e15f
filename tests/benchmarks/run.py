"""Measure how long the library takes beside other ways: python3 tests/benchmarks/run.py [NAME ...] [--here] [--write] [--strict].

Sets up the environment of the tests with the libraries to compare with (--here: uses this Python as it is), measures, and
prints machine, versions and a table of ratios.
"""

from __future__ import annotations

import argparse
import sys
from contextlib import ExitStack
from importlib import import_module
from pathlib import Path

HERE = Path(__file__).resolve()
TESTS = HERE.parent.parent
sys.path[:0] = [str(TESTS), str(TESTS.parent)]

import run as environment  # noqa: E402

NAMES = ("arrays", "knee", "log", "table", "imports", "templates", "share", "calc_calls")


def main() -> int:
    parser = argparse.ArgumentParser(description="Measure how long the library takes beside other ways to the same results.")
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"what to measure, of {', '.join(NAMES)} (default: everything)")
    parser.add_argument("--here", action="store_true", help="use this Python as it is instead of the environment of the tests")
    parser.add_argument("--write", action="store_true", help="write docs/benchmarks.md; measures everything")
    parser.add_argument("--strict", action="store_true", help="end with 1 when a goal is missed")
    chosen = parser.parse_args()
    unknown = [name for name in chosen.names if name not in NAMES]
    if unknown or chosen.write and chosen.names:
        parser.error(
            f"names must be of {', '.join(NAMES)} (got {', '.join(unknown)})"
            if unknown
            else "--write must stand without names: the page holds everything"
        )
    if not chosen.here:
        return environment.again_inside(HERE, *sys.argv[1:])
    return measure(chosen.names or NAMES, chosen.write, chosen.strict)


def measure(names, write: bool, strict: bool) -> int:
    from benchmarks.machine import machine
    from benchmarks.page import PAGE, as_ratio, page, table
    from benchmarks.timing import measured

    known = machine()
    print("\n".join(f"{what:22}{value}" for what, value in known), flush=True)
    sections = []
    for name in names:
        module, results = import_module(f"benchmarks.{name}"), []
        environment.say(module.__doc__.strip().partition("\n")[0])
        with ExitStack() as stack:
            for case in module.cases(stack):
                print(f"  {case.what}: ", end="", flush=True)
                results.append(measured(case))
                print(
                    f"{as_ratio(results[-1].ratio)} times {case.against_what}{', goal missed' if results[-1].missed else ''}",
                    flush=True,
                )
        sections.append((module, results))
    everything = [result for _, results in sections for result in results]
    print("\n".join(["", table(everything), "", *(note for result in everything for note in result.notes)]))
    if write:
        PAGE.write_text(page(sections, known), encoding="utf-8")
        print(f"written: docs/{PAGE.name}")
    return 1 if strict and any(result.missed for result in everything) else 0


if __name__ == "__main__":
    sys.exit(main())
