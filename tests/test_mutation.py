"""The maker of changes in the code: it finds the tests of a module, and a run goes on where it ended."""

from __future__ import annotations

import pytest
from mutation import reach, run


@pytest.mark.parametrize(
    "module, test",
    [
        ("spreadsheets/references.py", "test_evaluate"),
        ("share/links.py", "test_share"),
        ("workbooks/charts.py", "test_templates"),
        ("commands/knee.py", "test_commands"),
        ("addins/excel.py", "test_excel_addin"),
    ],
)
def test_the_tests_of_a_module_are_found(module, test):
    assert test in reach.tests_of(f"gritfuncs/{module}").split()


def test_every_module_has_tests_that_exist():
    for path in run.modules(["/", ".py"]):
        names = run.tests_of(path.relative_to(run.ROOT).as_posix()).split()
        assert names, path
        assert all((run.ROOT / "tests" / f"{name.partition('.')[0]}.py").exists() for name in names), path


def test_imports_are_read_wherever_they_stand(tmp_path, monkeypatch):
    monkeypatch.setattr(reach, "ROOT", tmp_path)
    path = tmp_path / "gritfuncs" / "share" / "job.py"
    path.parent.mkdir(parents=True)
    path.write_text("from ..spreadsheets import package\ndef f():\n    from .links import drop\n    import os.path\n")
    assert reach.imported(path) >= {"gritfuncs.spreadsheets.package", "gritfuncs.share.links", "os.path"}


CHANGES = [dict(module="gritfuncs/planning.py", text=f"x = {number}") for number in range(3)]


def test_a_run_goes_on_where_it_ended(tmp_path):
    file = tmp_path / "outcomes.jsonl"
    outcomes = run.Outcomes(file)
    outcomes.note(CHANGES[0], True)
    outcomes.note(CHANGES[1], False)
    again = run.Outcomes(file)
    assert [change in again for change in CHANGES] == [True, True, False]
    assert again.noticed(CHANGES[0]) is True and again.noticed(CHANGES[1]) is False
    assert dict(CHANGES[0], module="gritfuncs/units.py") not in again


def test_without_a_word_the_core_is_changed_and_with_one_any_module():
    core = {path.relative_to(run.ROOT / "gritfuncs").parts[0] for path in run.modules()}
    assert core == {"formulas", "knee", "planning"}
    assert [path.name for path in run.modules(["share/links"])] == ["links.py"]
