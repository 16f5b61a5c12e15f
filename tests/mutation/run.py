"""Do the tests notice a change of the code?  python3 tests/mutation/run.py [MODULE ...] [--write] [--here]

Changes one operator or number after the other in formulas/, knee/ and planning.py and runs the tests of that module until one
fails.  cosmic-ray makes the changes; the running is our own, since a new Python for each of some 2,600 changes takes hours: a
process loads the libraries once and forks for each change, in a copy of the repository.  Needs a system that can fork.

Without MODULE all of them (about half an hour on two cores).  --write stores the counts in docs/evidence/mutation.json, with the
reasons of survivors.json; a survivor without a reason there is listed at the end and makes the exit code 1.
"""
import argparse
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from multiprocessing import Process, Queue
from pathlib import Path
from queue import Empty

HERE = Path(__file__).resolve()
ROOT = HERE.parents[2]
RESULT = ROOT / "docs" / "evidence" / "mutation.json"
REASONS = HERE.parent / "survivors.json"
sys.path.insert(0, str(ROOT / "tests"))

import run as environment  # noqa: E402

# Which tests, the quickest first, for the modules whose path starts so; the first line that fits counts.
TESTS = [
    ("formulas/heat", "test_heat test_published test_checks"),
    ("formulas/wear", "test_wear test_published test_checks"),
    ("formulas/", "test_published test_scaling test_checks"),
    ("knee/quantiles", "test_knee_quantiles test_knee_fit test_knee_verdict"),
    ("knee/next_reading", "test_next_reading"),
    ("knee/reach", "test_next_reading test_knee_verdict"),
    ("knee/variance", "test_next_reading test_knee_verdict"),
    ("knee/", "test_knee_verdict test_knee_fit test_trial_knee test_next_reading"),
    ("planning", "test_planning test_fastest_setup test_cli"),
]
# The other operators of cosmic-ray change the same places once more (+ to each of ten signs), so they tell little.
OPERATORS = re.compile(
    r"core/(ReplaceBinaryOperator_(Add_Sub|Sub_Add|Mul_Div|Div_Mul|Pow_Mul)"
    r"|ReplaceComparisonOperator_(Lt_LtE|LtE_Lt|Gt_GtE|GtE_Gt|Lt_GtE|LtE_Gt|Gt_LtE|GtE_Lt|Eq_NotEq|NotEq_Eq|Is_IsNot|IsNot_Is)"
    r"|ReplaceUnaryOperator_(Delete_USub|Delete_Not)|AddNot|ReplaceTrueWithFalse|ReplaceFalseWithTrue|ReplaceAndWithOr|ReplaceOrWithAnd"
    r"|ReplaceBreakWithContinue|ReplaceContinueWithBreak|NumberReplacer|ZeroIterationForLoop)$")
PATIENCE, LEAST_PATIENCE = 10, 60  # a change is stopped, and counts as noticed, after so many times the usual time, or seconds


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("modules", nargs="*", metavar="MODULE", help="part of a path, such as knee/hinge (default: all)")
    parser.add_argument("--write", action="store_true", help="store the result for the page of evidence (all modules)")
    parser.add_argument("--here", action="store_true", help="use this Python as it is")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    chosen = parser.parse_args()
    if not chosen.here:
        if not environment.prepare("test,evidence"):
            return 1
        return subprocess.run([environment.PYTHON, HERE, "--here", *sys.argv[1:]]).returncode
    from importlib.metadata import version

    changes = [change for path in modules(chosen.modules) for change in changes_of(path)]
    environment.say(f"{len(changes)} changes")
    noticed = run_all(changes, chosen.processes)
    survivors = with_reasons([change for change, seen in zip(changes, noticed) if not seen])
    record = dict(library=f"cosmic-ray {version('cosmic-ray')}", modules=counts(changes, noticed), survivors=survivors)
    for module in record["modules"]:
        print(f"{module['module']:<40}{module['changes']:>6}{module['noticed']:>6}{100 * module['noticed'] / module['changes']:>8.1f} %")
    unexplained = [survivor for survivor in survivors if not survivor["reason"]]
    for survivor in unexplained:
        print(f"{survivor['module']}:{survivor['line']}\n  - {survivor['before']}\n  + {survivor['after']}")
    if chosen.write:
        for survivor in survivors:
            del survivor["line"]  # it moves with every edit above it
        RESULT.write_text(json.dumps(record, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return 1 if unexplained else 0


def modules(wanted):
    package = ROOT / "gritfuncs"
    paths = [*sorted(package.glob("formulas/*.py")), *sorted(package.glob("knee/*.py")), package / "planning.py"]
    return [path for path in paths if not wanted or any(word in str(path.relative_to(package)) for word in wanted)]


def changes_of(path):
    """Every change of a module: a dict with the module's path, the line before and after, and the whole changed text."""
    from cosmic_ray.ast import ast_nodes, get_ast
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.plugins import get_operator, operator_names

    source = path.read_text(encoding="utf-8")
    tree, found = get_ast(source), []
    for name in filter(OPERATORS.match, operator_names()):
        operator = get_operator(name)()
        occurrences = sum(len(list(operator.mutation_positions(node))) for node in ast_nodes(tree))
        for occurrence in range(occurrences):
            text = mutate_code(source, operator, occurrence)
            before, after, line = changed_line(source, text)
            found.append(dict(module=path.relative_to(ROOT).as_posix(), line=line, before=before, after=after, text=text))
    return found


def changed_line(source, text):
    pairs = zip(source.splitlines(), text.splitlines())
    line, (before, after) = next((number, pair) for number, pair in enumerate(pairs, start=1) if pair[0] != pair[1])
    return before.strip(), after.strip(), line


def run_all(changes, processes):
    """For each change whether a test noticed it, with progress."""
    with tempfile.TemporaryDirectory() as scratch:
        todo, done = Queue(), Queue()
        for job in enumerate(changes):
            todo.put(job)
        workers = []
        for number in range(processes):
            todo.put(None)
            copy = Path(scratch, str(number))
            shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".git", ".venv*", "__pycache__", ".hypothesis", "*.egg-info"))
            workers.append(Process(target=work, args=(copy, todo, done), daemon=True))
            workers[-1].start()
        noticed, start = [None] * len(changes), time.monotonic()
        for number in range(1, len(changes) + 1):
            place, noticed[place] = result(done, workers)
            if number % 20 == 0 or number == len(changes):
                left = (time.monotonic() - start) / number * (len(changes) - number) / 60
                print(f"\r== {number} of {len(changes)}, {noticed.count(False)} not noticed, {left:.0f} min left ", end="", flush=True)
        print()
        for worker in workers:
            worker.join()
        return noticed


def result(done, workers):
    while True:
        try:
            return done.get(timeout=5)
        except Empty:
            if any(worker.exitcode for worker in workers):
                sys.exit("a process ended early: its message stands above")


def work(copy, todo, done):
    """One process: the libraries are loaded once, each change runs in a fork of it."""
    import hypothesis  # noqa: F401
    import numpy  # noqa: F401
    import openpyxl  # noqa: F401
    import pytest  # noqa: F401
    import scipy.integrate
    import scipy.optimize
    import scipy.special
    import scipy.stats  # noqa: F401

    os.chdir(copy)
    os.environ["CI"] = "true"  # the same random examples each time
    sys.dont_write_bytecode = True
    sys.path[:0] = [str(copy), str(copy / "tests")]
    usual = {}
    while True:
        job = todo.get()
        if job is None:
            return
        place, change = job
        tests = next(tests for start, tests in TESTS if change["module"].startswith(f"gritfuncs/{start}"))
        if tests not in usual:
            start = time.monotonic()
            if noticed_by(tests, 3600):
                raise RuntimeError(f"the tests fail without any change: {tests}")
            usual[tests] = time.monotonic() - start
        path = copy / change["module"]
        source = path.read_text(encoding="utf-8")
        path.write_text(change["text"], encoding="utf-8")
        done.put((place, noticed_by(tests, max(LEAST_PATIENCE, int(PATIENCE * usual[tests])))))
        path.write_text(source, encoding="utf-8")


def noticed_by(tests, seconds):
    """Whether one of the tests fails, or does not come to an end."""
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) != 0
    signal.alarm(seconds)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    import pytest

    code = pytest.main(["-x", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--rootdir", os.getcwd(),
                        *(f"tests/{test}.py" for test in tests.split())])
    os._exit(int(code))


def counts(changes, noticed):
    found = {}
    for change, seen in zip(changes, noticed):
        module = found.setdefault(change["module"], dict(module=change["module"], changes=0, noticed=0))
        module["changes"] += 1
        module["noticed"] += seen
    return list(found.values())


def with_reasons(survivors):
    known = json.loads(REASONS.read_text(encoding="utf-8")) if REASONS.exists() else []
    reasons = {(entry["module"], entry["before"], entry["after"]): entry["reason"] for entry in known}
    return [dict(module=change["module"], line=change["line"], before=change["before"], after=change["after"],
                 reason=reasons.get((change["module"], change["before"], change["after"]), "")) for change in survivors]


if __name__ == "__main__":
    sys.exit(main())
