"""The evidence page shows what tests and simulations give now, and the page on the interval says what its pictures show."""

from __future__ import annotations

import importlib.util
import re
import subprocess
import sys
from pathlib import Path

import pytest
from evidence import knee_tables, notes, page

from gritfuncs.knee import FOUND, find_knee

ROOT = Path(__file__).resolve().parents[1]
REGENERATE = "run: python3 tests/evidence/run.py"
WITH_PUBLISHED_NUMBERS = ("test_published.py", "test_wear.py", "test_heat.py", "test_knee_quantiles.py")


@pytest.fixture(scope="module")
def text():
    return page.PAGE.read_text(encoding="utf-8")


def test_published_numbers_are_those_of_the_tests(text, tmp_path):
    run = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--evidence", str(tmp_path / "notes")]
    ended = subprocess.run(
        [*run, *(f"tests/{name}" for name in WITH_PUBLISHED_NUMBERS)], cwd=ROOT, capture_output=True, text=True
    )
    assert ended.returncode == 0, ended.stdout
    noted = notes.read([tmp_path / "notes"])
    assert page.published(noted) in text, REGENERATE
    assert page.laws([]).splitlines()[0] in text


def test_no_other_test_has_published_numbers():
    calling = {
        path.name
        for path in (ROOT / "tests").glob("test_*.py")
        if re.search(r"^ +published\(", path.read_text(encoding="utf-8"), re.MULTILINE)
    }
    assert calling == set(WITH_PUBLISHED_NUMBERS)


@pytest.mark.parametrize(
    "rows, case",
    [
        (knee_tables.coverage_rows, ("hinge", "±40 %", 0.02)),
        (knee_tables.coverage_rows, ("hinge", "±60 %", 0.05)),
        (lambda *case: [knee_tables.confusion_row(*case)], ("two slopes", 0.02)),
        (lambda *case: [knee_tables.confusion_row(*case)], ("power law", 0.01)),
    ],
)
def test_a_line_of_the_simulations_comes_out_again(rows, case, text):
    for row in rows(*case):
        assert "| " + " | ".join(row) + " |" in text, REGENERATE


def test_long_runs_are_shown_as_recorded(text):
    assert page.mutation() in text and page.fuzz() in text, REGENERATE


def how_sure_pictures():
    spec = importlib.util.spec_from_file_location("how_sure_pictures", ROOT / "docs" / "how_sure_pictures.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_page_on_the_interval_says_what_its_pictures_show():
    said, drawn = (ROOT / "docs" / "how-sure.md").read_text(encoding="utf-8"), how_sure_pictures()
    knees = [find_knee(*drawn.trial(f"repeat {number}")) for number in range(1, drawn.REPEATS + 1)]
    assert {knee.verdict for knee in knees} == {FOUND}
    held = sum(knee.low <= drawn.TRUE_KNEE <= knee.high for knee in knees)
    assert f"inside of {held} of the {drawn.REPEATS}" in said
    first = find_knee(*drawn.trial(1, 8, noise=0.01))
    assert first.verdict == FOUND and first.low < first.scatter_low < first.scatter_high < first.high  # two bands
    for off, low, high in re.findall(r"\| ±(\d+) % \| (-[\d.]+) to \+([\d.]+) % \|", said):
        assert (low, high) == tuple(f"{100 * ((1 + sign * int(off) / 100) ** 4 - 1):.1f}" for sign in (-1, 1))
    assert all((ROOT / "docs" / "pictures" / f"{name}.png").exists() for name in drawn.PICTURES)


def test_a_note_is_a_check():
    with pytest.raises(AssertionError, match="prints 2.0, ours is 2.06"):
        notes.published("a book", notes.SEEN, "a number", "2.0", 2.06)
    with pytest.raises(AssertionError, match="gives 1.0, ours is 1.1"):
        notes.computed("a number", "another way", 1.0, 1.1, within=0.01)
    with pytest.raises(AssertionError, match="to the power 2.3.*, not 2"):
        notes.law("a function", "a word", 2, 1.0, 5.0, 2)
    with pytest.raises(AssertionError):
        notes.agreement("an engine", "a book", {"A1": (1.0, 1.0), "A2": (1.0, 1.1)})
