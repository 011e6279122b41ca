"""The table of all benchmarks (`make bench`). Each script beside this one tells more of its own, run by itself."""

from __future__ import annotations

import sys
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parent))
    from table import main

    main()
