"""Do the tests notice a change of the code?  python3 tests/mutation/run.py [MODULE ...] [--again] [--write] [--here]

Changes one operator or number after the other in a module and runs the tests of the changed line until one fails.  cosmic-ray makes
the changes; the running is our own, since a new Python for each of thousands of changes takes hours: a process loads the libraries
once and forks for each change, in a copy of the repository.  Needs a system that can fork.

The tests of a line are those that ran it, first those in a file called like the module, then the quickest (lines.py).  Which these are is noted once in a run of all tests, a
quarter of an hour, in the folder --lines, and used again as long as the folder stands; a line that none ran is a table's, and the tests
are those of what imports it (reach.py).  --seconds is how long the tests of one change may take together, by the time that they took
then; a change that is not noticed by then is taken for one that no test notices.

Without MODULE formulas/, knee/ and planning/; MODULE may be a folder of the package, such as share/ or workbooks/blocks/, or any
part of a path.  --sample N tries only so many changes of a module, spread evenly.  --draw N tries so many of each folder of the package,
drawn at random, another draw for each --seed: it tells how large a share is noticed where there are thousands of changes; tests that
--without-test left out are tried at the end on what no other test noticed, and counted apart.  With --formulas the changes are those of
the formulas that a module writes into cells (formula_text.py), and are stored beside those of its code.  --resume FILE notes each outcome there at
once and, started again, goes on where it ended.  --again only the changes that were not noticed when the
result was stored last, and have no reason.  --without libreoffice leaves out the tests that use that fixture: far quicker, and what
survives may still be noticed by them.  --without-test TEXT leaves out the tests with TEXT in their names.

--write stores the counts and the survivors, for the modules that were run in docs/evidence/mutation.json, with --draw for the folders in
docs/evidence/mutation-drawn.json.  survivors.json says why a survivor may stay; one without a reason there is listed at the end and
makes the exit code 1.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import hashlib
import json
import os
import random
import re
import shutil
import signal
import sys
import tempfile
import time
from multiprocessing import Process, Queue
from pathlib import Path
from queue import Empty

HERE = Path(__file__).resolve()
ROOT = HERE.parents[2]
RESULT = ROOT / "docs" / "evidence" / "mutation.json"
DRAWN = RESULT.with_name("mutation-drawn.json")
REASONS = HERE.parent / "survivors.json"
sys.path.insert(0, str(ROOT / "tests"))

import run as environment  # noqa: E402
from mutation import formula_text, reach  # noqa: E402
from mutation.lines import noted  # noqa: E402

# The other operators of cosmic-ray change the same places once more (+ to each of ten signs), so they tell little.
OPERATORS = re.compile(
    r"core/(ReplaceBinaryOperator_(Add_Sub|Sub_Add|Mul_Div|Div_Mul|Pow_Mul)"
    r"|ReplaceComparisonOperator_(Lt_LtE|LtE_Lt|Gt_GtE|GtE_Gt|Lt_GtE|LtE_Gt|Gt_LtE|GtE_Lt|Eq_NotEq|NotEq_Eq|Is_IsNot|IsNot_Is)"
    r"|ReplaceUnaryOperator_(Delete_USub|Delete_Not)|AddNot|ReplaceTrueWithFalse|ReplaceFalseWithTrue|ReplaceAndWithOr|ReplaceOrWithAnd"
    r"|ReplaceBreakWithContinue|ReplaceContinueWithBreak|NumberReplacer|ZeroIterationForLoop)$"
)
PLAIN = ("__init__.py", "__main__.py")  # they hold names and a call alone
PATIENCE, LEAST_PATIENCE = (6, 60)  # a change is stopped, and counts as noticed, after so many times --seconds, or seconds


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument(
        "modules",
        nargs="*",
        metavar="MODULE",
        help="a folder of the package, such as share/, or part of a path, such as knee/hinge",
    )
    parser.add_argument(
        "--again", action="store_true", help="only what was not noticed when the result was stored, and has no reason"
    )
    parser.add_argument("--write", action="store_true", help="store the result for the page of evidence")
    parser.add_argument("--here", action="store_true", help="use this Python as it is")
    parser.add_argument("--sample", type=int, metavar="N", help="try only N changes of each module, spread evenly")
    parser.add_argument("--draw", type=int, metavar="N", help="try N changes of each folder, drawn at random")
    parser.add_argument("--formulas", action="store_true", help="with --draw: change the formulas of the workbooks")
    parser.add_argument("--seed", type=int, default=1, help="another draw for each number (default: 1)")
    parser.add_argument("--resume", type=Path, metavar="FILE", help="note each outcome in FILE, and skip those noted there")
    parser.add_argument("--without", nargs="*", default=[], metavar="FIXTURE", help="leave out tests that use one of these")
    parser.add_argument("--without-test", nargs="*", default=[], metavar="TEXT", help="leave out tests with this in their names")
    parser.add_argument("--lines", type=Path, default=ROOT / ".mutation", metavar="FOLDER", help="which tests run which line")
    parser.add_argument("--seconds", type=float, default=60, help="how long the tests of one change may take")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    chosen = parser.parse_args()
    if chosen.write and (chosen.sample or chosen.without or chosen.without_test and not chosen.draw):
        parser.error("--write must stand without --sample and --without: the page counts all changes of a module and all tests")
    if chosen.formulas and not chosen.draw:
        parser.error("--formulas must stand with --draw: there are thousands")
    if not chosen.here:
        return environment.again_inside(HERE, *sys.argv[1:])
    return try_drawn(chosen) if chosen.draw else try_modules(chosen)


def try_modules(chosen):
    """All changes of each module, or as many as --sample says."""
    stored, reasons, found = stored_result(), known_reasons(), {}
    for path in modules(chosen.modules):
        changes = changes_of(path, chosen.sample)
        total, kept = len(changes), []
        before = stored.get(path.relative_to(ROOT).as_posix())
        if chosen.again and before and before["changes"] == total:  # the module is the same; tests that were added notice no less
            open_ = {(survivor["before"], survivor["after"]) for survivor in before["survivors"]}
            changes = [change for change in changes if (change["before"], change["after"]) in open_]
            kept = [change for change in changes if reasons.get(key(change))]
            changes = [change for change in changes if not reasons.get(key(change))]
        found[path.relative_to(ROOT).as_posix()] = dict(changes=total, run=changes, kept=kept)
    todo = [change for entry in found.values() for change in entry["run"]]
    survivors = not_noticed(todo, chosen)
    stored = stored_result()  # read once more: another run may have stored other modules
    for module, entry in found.items():
        left = [
            dict(before=change["before"], after=change["after"], reason=reasons.get(key(change), ""))
            for change in entry["kept"] + [survivor for survivor in survivors if survivor["module"] == module]
        ]
        stored[module] = dict(module=module, changes=entry["changes"], survivors=left)
        print(f"{module:<40}{entry['changes']:>6}, not noticed {len(left):>4}")
    if chosen.write:
        text = json.dumps(sorted(stored.values(), key=lambda entry: entry["module"]), indent=1, ensure_ascii=False)
        RESULT.write_text(text + "\n", encoding="utf-8")
    return told(survivors, reasons)


def try_drawn(chosen):
    """So many changes of each folder, drawn at random."""
    operators = [formula_text.FormulaText()] if chosen.formulas else code_operators()
    reasons, found = known_reasons(), drawn(modules(chosen.modules or [""]), chosen.draw, chosen.seed, operators)
    survivors = not_noticed([change for entry in found.values() for change in entry["run"]], chosen)
    late = noticed_late(survivors, chosen)
    stored = {of_draw(entry): entry for entry in json.loads(DRAWN.read_text(encoding="utf-8"))} if DRAWN.exists() else {}
    for folder, entry in found.items():
        left = [
            dict(
                module=change["module"],
                before=change["before"],
                after=change["after"],
                reason=reasons.get(key(change), ""),
                late=change in late,
            )
            for change in survivors
            if folder_of(change["module"]) == folder
        ]
        result = dict(
            folder=folder,
            formulas=chosen.formulas,
            changes=entry["changes"],
            drawn=len(entry["run"]),
            seed=chosen.seed,
            without=chosen.without_test,
            survivors=left,
        )
        stored[of_draw(result)] = result
        again = sum(survivor["late"] for survivor in left)
        print(f"{folder:<20}{len(entry['run']):>4} of {entry['changes']:>5}, not noticed {len(left):>3}, of them late {again:>3}")
    if chosen.write:
        text = json.dumps(sorted(stored.values(), key=of_draw), indent=1, ensure_ascii=False)
        DRAWN.write_text(text + "\n", encoding="utf-8")
    return told([change for change in survivors if change not in late], reasons)


def of_draw(entry):
    """What a stored draw is of: a folder, and its code or its formulas."""
    return entry["folder"], entry["formulas"]


def noticed_late(survivors, chosen):
    """Those that the tests notice which were left out."""
    if not chosen.without_test:
        return []
    tests = [test for test in noted(chosen.lines).fixtures if any(text in test for text in chosen.without_test)]
    outcomes = Outcomes(chosen.resume and chosen.resume.with_suffix(".late"))
    todo = [dict(change, tests=tests) for change in survivors if change not in outcomes]
    run_all(todo, chosen, outcomes)
    return [change for change in survivors if outcomes.noticed(change)]


def not_noticed(todo, chosen):
    """Try the changes that --resume does not hold yet; those of all that no test noticed."""
    environment.say(f"{len(todo)} changes")
    outcomes = Outcomes(chosen.resume)
    lines, sources = noted(chosen.lines), {}
    for change in (change for change in todo if change not in outcomes):
        source = sources.setdefault(change["module"], (ROOT / change["module"]).read_text(encoding="utf-8"))
        tests = lines.of(change["module"], source, change["line"], frozenset(chosen.without), chosen.seconds)
        tests = [test for test in tests if not any(text in test for text in chosen.without_test)]
        change["tests"] = tests or reach.tests_of(change["module"])
    run_all([change for change in todo if change not in outcomes], chosen, outcomes)
    return [change for change in todo if not outcomes.noticed(change)]


def told(survivors, reasons):
    """Print the survivors without a reason; the exit code."""
    unexplained = [change for change in survivors if not reasons.get(key(change))]
    if unexplained:
        print("not noticed, and without a reason:", *map(shown, unexplained), sep="\n")
    return 1 if unexplained else 0


def shown(change):
    return f"{change['module']}:{change['line']}\n  - {change['before']}\n  + {change['after']}"


def modules(wanted=()):
    """The modules that are changed, or those of them whose path holds a wanted word."""
    package = ROOT / "gritfuncs"
    if wanted:
        paths = sorted(path for path in package.rglob("*.py") if path.name not in PLAIN)
        return [path for path in paths if any(meant(word, path.relative_to(package).as_posix()) for word in wanted)]
    paths = [*sorted(package.glob("formulas/*.py")), *sorted(package.glob("knee/*.py")), *sorted(package.glob("planning/*.py"))]
    return [path for path in paths if path.name not in PLAIN]


def meant(word, path):
    """Whether a word names a module: as a folder of the package, with / at the end, or as part of its path."""
    return path.startswith(word) if word.endswith("/") else word in path


class Outcomes:
    """Whether each change was noticed; noted in a file at once, if there is one, so that a run can go on where it ended."""

    def __init__(self, path):
        self.path, self._found = path, {}
        if path and path.exists():
            lines = path.read_text(encoding="utf-8").splitlines()
            self._found = {line["change"]: line["noticed"] for line in map(json.loads, lines)}

    def __contains__(self, change):
        return digest(change) in self._found

    def noticed(self, change):
        return self._found[digest(change)]

    def note(self, change, by):
        """By is the test that noticed, or None."""
        self._found[digest(change)] = by is not None
        if self.path:
            with self.path.open("a", encoding="utf-8") as file:
                print(json.dumps(dict(change=digest(change), noticed=by is not None, shown=shown(change), by=by)), file=file)


def digest(change):
    """Names a change of a module as it is now: other text in the module makes it another one."""
    return hashlib.sha256(f"{change['module']}\n{change['text']}".encode()).hexdigest()


def changes_of(path, most=None):
    """Every change of a module, or at most so many spread evenly."""
    found = places_of(path, code_operators())
    return made(found[:: -(-len(found) // most) or 1] if most else found)


def drawn(paths, number, seed, operators):
    """{folder: its number of changes, and so many of them drawn at random}."""
    folders: dict[str, list] = {}
    for path in paths:
        folders.setdefault(folder_of(path.relative_to(ROOT).as_posix()), []).extend(places_of(path, operators))
    chance = random.Random(seed)
    return {
        folder: dict(changes=len(places), run=made(chance.sample(places, min(number, len(places)))))
        for folder, places in folders.items()
    }


def folder_of(module):
    """The folder of the package in which a module stands, "" for those beside the folders."""
    return module.partition("/")[2].rpartition("/")[0].partition("/")[0]


def code_operators():
    """What changes the code of a module."""
    from cosmic_ray.plugins import get_operator, operator_names

    return [get_operator(name)() for name in filter(OPERATORS.match, operator_names())]


def places_of(path, operators):
    """(path, operator, occurrence) of every change that can be made in a module."""
    from cosmic_ray.ast import ast_nodes, get_ast

    tree, places = get_ast(path.read_text(encoding="utf-8")), []
    for operator in operators:
        occurrences = sum(len(list(operator.mutation_positions(node))) for node in ast_nodes(tree))
        step = 2 if type(operator).__name__ == "NumberReplacer" else 1  # plus 1; the odd ones are minus 1
        places += [(path, operator, occurrence) for occurrence in range(0, occurrences, step)]
    return places


def made(places):
    """The changes at these places: dicts of the module, the line before and after, and the changed text."""
    from cosmic_ray.mutating import mutate_code

    found = []
    for path, operator, occurrence in places:  # each takes a fifth of a second
        source = path.read_text(encoding="utf-8")
        text = mutate_code(source, operator, occurrence)
        if changes_code(source, text):
            before, after, line = changed_line(source, text)
            found.append(dict(module=path.relative_to(ROOT).as_posix(), line=line, before=before, after=after, text=text))
    return found


def changes_code(source, text):
    """False where 1 is added to 1e100, and where what comes out is no Python."""
    try:
        return ast.dump(ast.parse(text)) != ast.dump(ast.parse(source))
    except SyntaxError:
        return False


def changed_line(source, text):
    pairs = zip(source.splitlines(), text.splitlines())
    line, (before, after) = next((number, pair) for number, pair in enumerate(pairs, start=1) if pair[0] != pair[1])
    return before.strip(), after.strip(), line


def run_all(changes, chosen, outcomes):
    """Find out for each change whether a test notices it, with progress."""
    with tempfile.TemporaryDirectory() as scratch:
        todo, done = Queue(), Queue()
        for job in enumerate(changes):
            todo.put(job)
        workers = []
        for number in range(chosen.processes):
            todo.put(None)
            copy = Path(scratch, str(number))
            shutil.copytree(
                ROOT,
                copy,
                ignore=shutil.ignore_patterns(".git", ".venv*", "__pycache__", ".hypothesis", "*.egg-info", ".mutation"),
            )
            limit = max(LEAST_PATIENCE, int(PATIENCE * chosen.seconds))
            workers.append(Process(target=work, args=(copy, todo, done, limit), daemon=True))
            workers[-1].start()
        missed, start = 0, time.monotonic()
        for number in range(1, len(changes) + 1):
            place, by = result(done, workers)
            outcomes.note(changes[place], by)
            if by is None:
                missed += 1
                print(f"\r{shown(changes[place])}", flush=True)
            if number % 20 == 0 or number == len(changes):
                left = (time.monotonic() - start) / number * (len(changes) - number) / 60
                print(f"\r== {number} of {len(changes)}, {missed} not noticed, {left:.0f} min left ", end="", flush=True)
        print()
        for worker in workers:
            worker.join()


def result(done, workers):
    while True:
        try:
            return done.get(timeout=5)
        except Empty:
            if any(worker.exitcode for worker in workers):
                sys.exit("a process ended early: its message stands above")


def work(copy, todo, done, limit):
    """One process: the libraries are loaded once, each change runs in a fork of it."""
    os.environ.setdefault("OPENPYXL_LXML", "False")  # as tests/conftest.py has it, which comes too late here
    import hypothesis  # noqa: F401
    import numpy  # noqa: F401
    import openpyxl  # noqa: F401
    import pytest  # noqa: F401
    import scipy.integrate
    import scipy.optimize
    import scipy.special
    import scipy.stats  # noqa: F401

    os.chdir(copy)
    sys.dont_write_bytecode = True
    sys.path[:0] = [str(copy), str(copy / "tests")]
    trusted, broken = set(), []  # tests that noticed something, and pass or fail without any change
    while (job := todo.get()) is not None:
        place, change = job
        path = copy / change["module"]
        source = path.read_text(encoding="utf-8")
        while True:
            path.write_text(change["text"], encoding="utf-8")
            by = noticed_by(change["tests"], limit, broken)
            path.write_text(source, encoding="utf-8")
            if by is None or "::" not in by or by in trusted:
                break
            if noticed_by([by], limit) is None:
                trusted.add(by)
                break
            broken.append(by)
        done.put((place, by))


class FirstFailure:
    """A plugin that writes the name of the first test or file that fails."""

    def __init__(self, path):
        self.path = path

    def pytest_runtest_logreport(self, report):
        if report.failed and not self.path.exists():
            self.path.write_text(report.nodeid, encoding="utf-8")

    pytest_collectreport = pytest_runtest_logreport


def noticed_by(tests, seconds, but=()):
    """The first of the tests that fails, what else ends their run, or None."""
    with tempfile.TemporaryDirectory() as folder:
        failure = Path(folder, "failure.txt")
        child = os.fork()
        if not child:
            run_in_fork(tests, seconds, failure, but)
        code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        with contextlib.suppress(ProcessLookupError):
            os.killpg(child, signal.SIGKILL)  # what a test started and had no time to end
        if code == 0:
            return None
        return failure.read_text(encoding="utf-8") if failure.exists() else ENDED.get(code, f"exit code {code}")


ENDED = {-signal.SIGALRM: "time limit"}


def run_in_fork(tests, seconds, failure, but):
    os.setpgid(0, 0)
    signal.alarm(seconds)
    output = os.open(os.devnull, os.O_WRONLY)
    os.dup2(output, 1)
    os.dup2(output, 2)
    import pytest

    options = ["-x", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--hypothesis-profile", "no shrinking"]
    options += [f"--deselect={test}" for test in but]
    code = pytest.main([*options, *tests], plugins=[FirstFailure(failure)])
    if code == pytest.ExitCode.USAGE_ERROR:  # a test has another name by now
        files = dict.fromkeys(test.partition("::")[0] for test in tests)
        code = pytest.main([*options, *files], plugins=[FirstFailure(failure)])
    os._exit(0 if code in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED) else 1)


def stored_result():
    """What was found of the modules that there still are."""
    entries = json.loads(RESULT.read_text(encoding="utf-8")) if RESULT.exists() else []
    return {entry["module"]: entry for entry in entries if (ROOT / entry["module"]).exists()}


def key(change):
    return change["module"], change["before"], change["after"]


def known_reasons():
    return {key(entry): entry["reason"] for entry in json.loads(REASONS.read_text(encoding="utf-8"))} if REASONS.exists() else {}


if __name__ == "__main__":
    sys.exit(main())
