import sys
from pathlib import Path

import pytest

from nestwright.cli import progress

# The invented results are shared by the tests of this folder.
sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(autouse=True)
def no_lines_of_progress(monkeypatch, request):
    """A busy machine makes long work of short: what a test reads of the error output is what it made wrong."""
    if request.node.path.name != "test_progress.py":
        monkeypatch.setattr(progress, "FIRST_LINE", 1e9)
