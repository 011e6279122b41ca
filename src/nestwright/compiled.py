"""Where compiled code is kept: on disk, under a mark of all sources that it was made from.

The compiler by itself looks only at the file of each function, and would go on using an old copy of what that function
calls. Both numeric hearts share one place, since the compiler knows only one.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

__all__ = ["is_compiled", "keep_compiled"]


def _sources(package: Path) -> list[Path]:
    colony = [p for p in (package / "colony").glob("*.py") if b"njit" in p.read_bytes() or p.stem == "parameters"]
    return sorted([*(package / "network").glob("*.py"), *colony])


def keep_compiled() -> None:
    """Tell the compiler where to keep its code, unless the environment already does. Call before numba is imported."""
    if "NUMBA_CACHE_DIR" in os.environ:
        return
    package = Path(__file__).parent
    mark = hashlib.sha256(b"".join(p.read_bytes() for p in _sources(package))).hexdigest()[:16]
    beside = package / "network" / "__pycache__"
    if os.access(beside if beside.exists() else beside.parent, os.W_OK):
        folder = beside
    else:
        folder = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "nestwright"
    os.environ["NUMBA_CACHE_DIR"] = str(folder / f"compiled-{mark}")


def is_compiled(function: str) -> bool:
    """Whether compiled code of a function, as "module.function", is kept already."""
    keep_compiled()
    return any(Path(os.environ["NUMBA_CACHE_DIR"]).glob(f"*/{function}-*.nbi"))
