"""What all test files share: how random examples are drawn, and LibreOffice."""
import os

import pytest
from hypothesis import HealthCheck, settings
from libreoffice import LibreOffice, Missing

# A busy machine is no failure, and the gate of a push draws the same examples each time; by hand they are drawn anew.
settings.register_profile("tests", deadline=None, max_examples=50, derandomize="CI" in os.environ,
                          suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("tests")


@pytest.fixture(scope="session")
def libreoffice():
    """One headless LibreOffice for the session; its absence fails the test: nothing else checks the cells."""
    try:
        office = LibreOffice()
    except Missing as error:
        pytest.fail(str(error), pytrace=False)
    with office:
        yield office
