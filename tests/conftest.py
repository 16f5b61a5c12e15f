"""Fixtures that more than one test file needs."""
import pytest
from libreoffice import LibreOffice, Missing


@pytest.fixture(scope="session")
def libreoffice():
    """One headless LibreOffice for the session; its absence fails the test: nothing else checks the cells."""
    try:
        office = LibreOffice()
    except Missing as error:
        pytest.fail(str(error), pytrace=False)
    with office:
        yield office
