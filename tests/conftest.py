"""What all tests share."""

import pytest


@pytest.fixture(autouse=True)
def no_width(monkeypatch):
    """Output is as wide as into a pipe, whatever the terminal that the tests are started from."""
    monkeypatch.delenv("COLUMNS", raising=False)
