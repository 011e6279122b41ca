"""All benchmarks, one after the other (`make bench`)."""

from __future__ import annotations

import runpy
import sys
from pathlib import Path

HERE = Path(__file__).parent
NAMES = ("climate", "year", "colony", "readings", "nesting", "parcel")


def main() -> None:
    """Run each as a script of its own would run, without arguments."""
    sys.path.insert(0, str(HERE))
    sys.argv = sys.argv[:1]
    for name in NAMES:
        print(f"\n== {name}", flush=True)
        runpy.run_path(str(HERE / f"{name}.py"), run_name="__main__")


if __name__ == "__main__":
    main()
