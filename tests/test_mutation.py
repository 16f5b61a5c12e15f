"""The maker of changes in the code: it finds the tests of a line, and a run goes on where it ended."""

from __future__ import annotations

import json
from collections import Counter

import parso
import pytest
from mutation import formula_text, reach, run
from mutation.lines import LineTests, lines_with_names_of, statements_around, words_of


@pytest.mark.parametrize(
    "module, test",
    [
        ("spreadsheets/references.py", "test_evaluate"),
        ("share/links.py", "test_share"),
        ("sheets/charts.py", "test_sheets"),
        ("commands/knee.py", "test_commands"),
        ("addins/excel.py", "test_excel_addin"),
    ],
)
def test_the_tests_of_a_module_are_found(module, test):
    assert f"tests/{test}.py" in reach.tests_of(f"gritfuncs/{module}")


def test_every_module_has_tests_that_exist():
    for path in run.modules([""]):
        names = reach.tests_of(path.relative_to(run.ROOT).as_posix())
        assert names and all((run.ROOT / name).exists() for name in names), path


def test_imports_are_read_wherever_they_stand(tmp_path, monkeypatch):
    monkeypatch.setattr(reach, "ROOT", tmp_path)
    path = tmp_path / "gritfuncs" / "share" / "job.py"
    path.parent.mkdir(parents=True)
    path.write_text("from ..spreadsheets import package\ndef f():\n    from .links import drop\n    import os.path\n")
    assert reach.imported(path) >= {"gritfuncs.spreadsheets.package", "gritfuncs.share.links", "os.path"}


CHANGES = [
    dict(module="gritfuncs/planning.py", text=f"x = {number}", line=1, before="x = 9", after=f"x = {number}")
    for number in range(3)
]


def test_a_run_goes_on_where_it_ended(tmp_path):
    file = tmp_path / "outcomes.jsonl"
    outcomes = run.Outcomes(file)
    outcomes.note(CHANGES[0], "tests/test_x.py::test_it")
    outcomes.note(CHANGES[1], None)
    again = run.Outcomes(file)
    assert [change in again for change in CHANGES] == [True, True, False]
    assert again.noticed(CHANGES[0]) is True and again.noticed(CHANGES[1]) is False
    assert dict(CHANGES[0], module="gritfuncs/units.py") not in again


def test_without_a_word_the_core_is_changed_and_with_one_any_module():
    core = {path.relative_to(run.ROOT / "gritfuncs").parts[0] for path in run.modules()}
    assert core == {"formulas", "knee", "planning"}
    assert [path.name for path in run.modules(["share/links"])] == ["links.py"]


SOURCE = """\
LIMIT = 3


def f(x):
    if x > LIMIT:
        return g(
            x,
        )
    return 0
"""


@pytest.fixture
def line_tests(tmp_path):
    first = dict(
        seconds={"slow": 5, "quick": 1, "broken": 0.1, "fixture tests::book": 20, "fixture tests::office": 1},
        fixtures={"slow": ["fixture tests::office"], "quick": [], "broken": []},
        failed=["broken"],
        lines={"gritfuncs/f.py": {"if x > LIMIT:": ["slow", "quick", "broken"], "return g(": ["slow"]}},
    )
    second = dict(
        seconds={"typed": 2, "read": 3, "tests/test_excel.py::test_child": 4},
        fixtures={"typed": ["fixture tests::book"], "read": ["fixture tests::book"], "tests/test_excel.py::test_child": []},
        failed=[],
        lines={"gritfuncs/f.py": {"return 0": ["fixture tests::book"]}},
    )
    for name, notes in dict(first=first, second=second).items():
        (tmp_path / f"notes.{name}.json").write_text(json.dumps(notes))
    return LineTests(tmp_path)


@pytest.mark.parametrize(
    "line, tests",
    [
        (6, ["slow", "quick", "typed", "read"]),  # its own test first, then those of the statements around it, the quickest first
        (7, ["slow", "quick", "typed", "read"]),  # the line of an argument has no notes: the statement that holds it
        (9, ["typed", "read", "quick", "slow"]),  # ran in a fixture: the tests that use it
        (1, ["quick", "slow", "typed", "read"]),  # runs when the module is loaded: every test of the module
    ],
)
def test_the_tests_of_a_line(line_tests, line, tests):
    assert line_tests.of("gritfuncs/f.py", SOURCE, line) == tests


def test_the_tests_of_a_line_take_no_longer_than_wanted_and_wait_for_a_fixture_once(line_tests):
    assert line_tests.of("gritfuncs/f.py", SOURCE, 9, seconds=25) == ["typed", "read"]
    assert line_tests.of("gritfuncs/f.py", SOURCE, 9, seconds=24) == ["typed"]
    assert line_tests.of("gritfuncs/f.py", SOURCE, 9, seconds=0) == ["typed"]  # one at least
    assert line_tests.of("gritfuncs/f.py", SOURCE, 9, without={"book"}) == ["quick", "slow"]


def test_a_line_of_a_module_that_no_test_ran_has_none(line_tests):
    assert line_tests.of("gritfuncs/tables.py", SOURCE, 1) == []


def test_tests_in_a_file_called_like_the_module_are_tried_where_they_ran_nothing_of_it(line_tests):
    assert line_tests.of("gritfuncs/addins/excel.py", SOURCE, 1) == ["tests/test_excel.py::test_child"]


def test_they_come_before_tests_that_ran_another_part_of_the_module(line_tests):
    line_tests._ran["gritfuncs/addins/excel.py"] = {"return g(": {"slow"}, "return 0": {"quick"}}
    assert line_tests.of("gritfuncs/addins/excel.py", SOURCE, 9) == ["quick", "slow", "tests/test_excel.py::test_child"]
    assert line_tests.of("gritfuncs/addins/excel.py", SOURCE, 1) == ["tests/test_excel.py::test_child", "quick", "slow"]
    assert line_tests.of("gritfuncs/addins/excel.py", SOURCE, 1, seconds=4) == ["tests/test_excel.py::test_child"]


def test_the_more_the_name_of_a_file_says_of_a_module_the_sooner_its_tests_come(line_tests):
    """A word says the more the fewer files have it."""
    files = ("test_confirm_book", "test_knee_steps", "test_plan_steps", "test_trial_steps", "test_trial_book")
    line_tests._files_with = Counter(word for file in files for word in words_of(f"tests/{file}.py"))
    module = "gritfuncs/workbooks/confirm/steps.py"
    scores = [line_tests.likeness(f"tests/{file}.py::test_a", module) for file in files]
    assert scores == pytest.approx([1, 1 / 3, 1 / 3, 1 / 3, 0])
    assert line_tests.likeness("tests/test_trial_steps.py::test_a", "gritfuncs/trial/steps.py") == pytest.approx(1 / 2 + 1 / 3)


def test_statements_around_a_line_are_named_from_the_inside():
    assert statements_around(SOURCE, 7) == [(6, 8), (5, 8), (4, 9)]


TABLE = """\
LOW = 3
HIGH: int = 4
LIMITS = {"low": LOW, "high": HIGH}


def f(x):
    if x > LIMITS["low"]:
        return 1
    if x > HIGH:
        return 2
    return 0
"""


@pytest.mark.parametrize("line, lines", [(1, [1, 3, 7]), (2, [2, 3, 7, 9]), (3, [3, 7]), (7, [])])
def test_what_has_a_name_is_tried_where_the_name_stands(line_tests, line, lines):
    assert lines_with_names_of(TABLE, line) == lines
    line_tests._ran["gritfuncs/table.py"] = {"if x > HIGH:": {"slow"}, "return 2": {"quick"}, 'if x > LIMITS["low"]:': {"typed"}}
    expected = {1: ["typed", "quick", "slow"], 2: ["slow", "typed", "quick"], 3: ["typed", "quick", "slow"]}
    assert line not in expected or line_tests.of("gritfuncs/table.py", TABLE, line) == expected[line]


def changed_formulas(code):
    """What each leaf of a line of code may become."""
    found, leaf = [], parso.parse(code).get_first_leaf()
    while leaf is not None:
        found += formula_text.changes(leaf)
        leaf = leaf.get_next_leaf()
    return found


@pytest.mark.parametrize(
    "code, changed",
    [
        ("""'=IF(a<b,"1<2",1.5)'""", ["""'=IF(a<=b,"1<2",1.5)'""", """'=IF(a>=b,"1<2",1.5)'""", """'=IF(a<b,"1<2",2.5)'"""]),
        ('f"{a}<>0"', ["=0", "<>1"]),
        ('f"={a}={b}"', ["<>"]),  # the first = begins the formula
        ('f"AND({a[1]},{f(2)})"', ["OR("]),  # numbers of Python are changed as code
        ('"[depth:]*{~slope}"', ['"[depth:]/{~slope}"']),
        ("'IF({a}<1E-19,1E+300)'", ["'IF({a}<=1E-19,1E+300)'", "'IF({a}>=1E-19,1E+300)'"]),
        ('"MAX(A1:B$2,in_a_3)"', ['"MIN(A1:B$2,in_a_3)"']),
        ('f"{number:<10}"', []),
        ('"mm/min"', []),
        ('"mm³/(mm·s)"', []),
        ('"[<100]0.0;0"', []),
        ('"the load (kW) - idle"', []),
        ('"""a_b/c"""', []),
    ],
)
def test_formulas_are_changed_and_words_are_not(code, changed):
    assert changed_formulas(code) == changed
