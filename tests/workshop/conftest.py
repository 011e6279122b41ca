import sys
from pathlib import Path

import pytest

# What several tests of this folder build on lies beside them.
sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture
def shop(tmp_path):
    """An empty workshop."""
    from workshops import fresh

    return fresh(tmp_path / "shop")
