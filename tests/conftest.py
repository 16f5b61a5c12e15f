"""What all test files share: how random examples are drawn, LibreOffice, and notes for the evidence page."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path

# openpyxl writes other spellings where lxml is installed; the workbooks here are compared as it writes them without it.
# One test runs the others with it: tests/test_share_spellings.py.
os.environ.setdefault("OPENPYXL_LXML", "False")

import pytest
from evidence import notes
from hypothesis import HealthCheck, Phase, settings
from libreoffice import LibreOffice, Missing

# A busy machine is no failure, and the gate of a push draws the same examples each time; by hand they are drawn anew.
settings.register_profile(
    "tests", deadline=None, max_examples=50, derandomize="CI" in os.environ, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("tests")
# Whether an example fails is enough for the tests of the tests; which is the simplest one takes longest to find.
settings.register_profile(
    "no shrinking", settings.get_profile("tests"), derandomize=True, database=None, phases=(Phase.explicit, Phase.generate)
)


def pytest_addoption(parser):
    parser.addoption(
        "--evidence", metavar="FILE", type=Path, help="write what the tests compared to this file (a test process adds its name)"
    )


def pytest_sessionfinish(session):
    path, process = session.config.getoption("evidence"), getattr(session.config, "workerinput", None)
    if path and process:  # not by the environment: a test may start pytest on its own
        notes.write(path.with_name(f"{path.name}.{process['workerid']}"))
    elif path and not session.config.getoption("numprocesses", None):
        notes.write(path)


@pytest.fixture(scope="session")
def libreoffice():
    """One headless LibreOffice for the session; its absence fails the test: nothing else checks the cells."""
    try:
        office = LibreOffice()
    except Missing as error:
        pytest.fail(str(error), pytrace=False)
    with office:
        yield office


@pytest.fixture(scope="session")
def as_built():
    """A function that gives a workbook of openpyxl by the name of its template, as it is shipped: to be read, not changed."""
    from gritfuncs.workbooks.templates import TEMPLATES

    return cache(lambda name: TEMPLATES[name]())


@pytest.fixture
def no_search_for_readings_out_of_line(monkeypatch):
    from gritfuncs.knee import find

    monkeypatch.setattr(find, "_screen", lambda readings, noise, answer: answer)


@pytest.fixture(scope="session")
def compute(libreoffice):
    """{engine: function that gives {sheet: {"A1": value}} of the workbook at a path}, of all engines."""
    from engines import OTHERS

    return {"LibreOffice": libreoffice.recalc, **OTHERS}
