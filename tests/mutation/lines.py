"""Which tests run which line of the package, and how long each test takes.

`noted` runs the whole suite once with this module as a plugin of pytest.  coverage.py notes each line under the name of what runs:
a test, or a fixture, which many tests may share; a line that ran in a fixture counts for every test that uses it.
"""

from __future__ import annotations

import ast
import json
import os
import re
import subprocess
import sys
from collections import Counter
from functools import cache
from pathlib import Path
from time import monotonic

import pytest

ROOT = Path(__file__).resolve().parents[2]
FOLDER = "GRITFUNCS_LINES"  # the environment variable that names the folder in which each process puts its notes


class Notes:
    """The plugin: lines, seconds, fixtures and failures of one process of the tests."""

    def __init__(self, folder: Path):
        import coverage

        self.folder = folder
        self.coverage = coverage.Coverage(data_file=None, source=[str(ROOT / "gritfuncs")], config_file=False)
        self.seconds: dict[str, float] = {}  # of each test and fixture, without the fixtures that it waits for
        self.fixtures: dict[str, list[str]] = {}  # of each test
        self.failed: set[str] = set()
        self.running: list[str] = []

    def during(self, name):
        """Note lines and seconds under this name while a hook runs."""
        self.coverage.switch_context(name)
        self.running.append(name)
        start = monotonic()
        try:
            return (yield)
        finally:
            seconds = monotonic() - start
            self.running.pop()
            self.seconds[name] = self.seconds.get(name, 0) + seconds
            if self.running:
                outer = self.running[-1]
                self.seconds[outer] = self.seconds.get(outer, 0) - seconds
            self.coverage.switch_context(self.running[-1] if self.running else "")

    def pytest_sessionstart(self):
        self.coverage.start()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item):
        parameters = getattr(getattr(item, "callspec", None), "params", {})
        definitions = item._fixtureinfo.name2fixturedefs
        self.fixtures[item.nodeid] = [fixture_name(found[-1], parameters) for found in definitions.values()]
        return (yield from self.during(item.nodeid))

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef, request):
        parameters = {fixturedef.argname: request.param} if hasattr(request, "param") else {}
        name = fixture_name(fixturedef, parameters)
        result = yield from self.during(name)
        if hasattr(result, "cache_info"):  # a function that keeps what it made once: all that use it are tests of it
            result = self.making(name, result)
            fixturedef.cached_result = (result, *fixturedef.cached_result[1:])
        return result

    def making(self, name, function):
        """The function, whose lines and seconds count for the fixture that gives it."""

        def call(*arguments):
            steps = self.during(name)
            next(steps)
            try:
                return function(*arguments)
            finally:
                steps.close()

        return call

    def pytest_runtest_logreport(self, report):
        if report.failed:
            self.failed.add(report.nodeid)

    def pytest_sessionfinish(self):
        self.coverage.stop()
        notes = dict(seconds=self.seconds, fixtures=self.fixtures, failed=sorted(self.failed), lines=self.lines())
        (self.folder / f"notes.{os.getpid()}.json").write_text(json.dumps(notes), encoding="utf-8")

    def lines(self):
        """{module: {what a line says: names of what ran it}}: the numbers of lines change with every edit."""
        data, found = self.coverage.get_data(), {}
        for path in map(Path, data.measured_files()):
            texts = path.read_text(encoding="utf-8").splitlines()
            module = found.setdefault(path.relative_to(ROOT).as_posix(), {})
            for number, names in data.contexts_by_lineno(str(path)).items():
                text = texts[number - 1].strip() if number else ""  # an empty module has a line 0
                module.setdefault(text, []).extend(filter(None, names))
        return found


def fixture_name(definition, parameters):
    name = f"fixture {definition.baseid}::{definition.argname}"
    return f"{name}[{str(parameters[definition.argname])[:60]}]" if definition.argname in parameters else name


def pytest_configure(config):
    """Called by pytest; with several processes of tests the one that hands them out notes nothing."""
    folder = os.environ.get(FOLDER)
    if folder and (hasattr(config, "workerinput") or not config.getoption("numprocesses", None)):
        config.pluginmanager.register(Notes(Path(folder)))


def noted(folder: Path) -> LineTests:
    """The notes in a folder; where there are none, the whole suite runs once and takes them."""
    if not list(folder.glob("notes.*.json")):
        folder.mkdir(parents=True, exist_ok=True)
        arguments = ["-m", "pytest", "-p", "mutation.lines", "-n", str(os.cpu_count() or 1), "--dist", "loadfile"]
        path = os.pathsep.join(filter(None, [str(ROOT), str(ROOT / "tests"), os.environ.get("PYTHONPATH")]))
        subprocess.run([sys.executable, *arguments], cwd=ROOT, env={**os.environ, FOLDER: str(folder), "PYTHONPATH": path})
    return LineTests(folder)


class LineTests:
    """The tests that ran a line, from the notes of all processes."""

    def __init__(self, folder: Path):
        self.seconds: dict[str, float] = {}
        self.fixtures: dict[str, list[str]] = {}
        notes = [json.loads(file.read_text(encoding="utf-8")) for file in sorted(folder.glob("notes.*.json"))]
        for process in notes:
            self.seconds.update(process["seconds"])
            self.fixtures.update(process["fixtures"])
        self.failed = {test for process in notes for test in process["failed"]}
        files = {test.partition("::")[0] for test in self.fixtures}
        self._files_with = Counter(word for file in files for word in words_of(file))
        users: dict[str, set[str]] = {}
        for test, fixtures in self.fixtures.items():
            for name in [test, *fixtures]:
                users.setdefault(name, set()).add(test)
        self._ran: dict[str, dict[str, set[str]]] = {}
        for process in notes:
            for module, lines in process["lines"].items():
                ran = self._ran.setdefault(module, {})
                for text, names in lines.items():
                    ran.setdefault(text, set()).update(*(users.get(name, ()) for name in names))
        for ran in self._ran.values():
            for tests in ran.values():
                tests -= self.failed

    def of(self, module: str, source: str, line: int, without=frozenset(), seconds: float = 120) -> list[str]:
        """The tests of a line: those that ran it, then those that ran the statements around it, to the whole module.

        A line that gives a name to a value, a table or a limit, runs when the module is loaded: its tests are those that ran a line
        with this name in it.

        Tests in files that are called like the module come first, and then the quickest: what builds a workbook runs nearly all
        lines of it, for hundreds of tests.  To the whole module belong those in such a file that ran nothing of it: they may run it
        in a process of their own, or read what it made when it was loaded.
        No more than take so many seconds all together; none that uses a fixture of `without`.
        """
        ran, texts = self._ran.get(module, {}), source.splitlines()

        def ran_in(first: int, last: int) -> set[str]:
            return set().union(*(ran.get(text.strip(), ()) for text in texts[first - 1 : last]))

        def order(test: str) -> tuple[int, float]:
            return -self.likeness(test, module), self.time(test)

        called_like_it = {test for test in self.fixtures if self.likeness(test, module)} - self.failed
        inner = [ran_in(*lines) for lines in [(line, line), *statements_around(source, line)]]
        inner.append(set().union(*(ran_in(number, number) for number in lines_with_names_of(source, line))))
        found: dict[str, None] = {}
        for tests in [*inner, ran_in(1, len(texts)) | called_like_it]:
            new = (test for test in tests if test not in found and not self.uses(test, without))
            found |= dict.fromkeys(sorted(new, key=order))
        return self.within(found, seconds)

    def likeness(self, test: str, module: str) -> float:
        """How much the name of a test's file says of a module: the words of its path, each the more the fewer files have it."""
        return sum(1 / self._files_with[word] for word in words_of(test.partition("::")[0]) & words_of(module))

    def uses(self, test, fixtures):
        return any(name.rpartition("::")[2].partition("[")[0] in fixtures for name in self.fixtures[test])

    def time(self, test):
        return self.seconds.get(test, 0) + sum(self.seconds.get(name, 0) for name in self.fixtures[test])

    def within(self, tests, seconds):
        """The first tests, as many as come to an end in time; a fixture is waited for once."""
        made: set[str] = set()
        chosen = []
        for test in tests:
            new = set(self.fixtures[test]) - made
            seconds -= self.seconds.get(test, 0) + sum(self.seconds.get(name, 0) for name in new)
            if seconds < 0 and chosen:
                break
            made |= new
            chosen.append(test)
        return chosen


@cache
def words_of(path: str) -> frozenset[str]:
    return frozenset(re.findall("[a-z]+", Path(path).with_suffix("").as_posix()))


@cache
def statements_around(source: str, line: int) -> list[tuple[int, int]]:
    """First and last line of each statement that holds a line, the innermost first."""
    statements = (node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.stmt) and node.end_lineno)
    around = {(node.lineno, node.end_lineno) for node in statements if node.lineno <= line <= node.end_lineno}
    return sorted(around, key=lambda lines: lines[1] - lines[0])


@cache
def lines_with_names_of(source: str, line: int) -> list[int]:
    """The lines with the names to which a statement of the module gives a value; and with the names of what is made from those."""
    body = ast.parse(source).body
    named = {node: names_given(node) for node in body if isinstance(node, (ast.Assign, ast.AnnAssign))}
    names = set().union(*(given for node, given in named.items() if node.lineno <= line <= node.end_lineno))
    found: list[int] = []
    for node in body if names else ():  # a value is made from those above it
        lines = [part.lineno for part in ast.walk(node) if isinstance(part, ast.Name) and part.id in names]
        if lines and node in named:
            names |= named[node]
        found += lines
    return sorted(set(found))


def names_given(node: ast.Assign | ast.AnnAssign) -> set[str]:
    targets = node.targets if isinstance(node, ast.Assign) else [node.target]
    return {part.id for target in targets for part in ast.walk(target) if isinstance(part, ast.Name)}
