"""Zones, links and sources as arrays; their steady and transient solution.

The compiled code is kept on disk under a mark of all sources in this folder: the compiler by itself looks only at the
file of each function, and would go on using an old copy of what that function calls.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path


def _cache_folder() -> Path:
    here = Path(__file__).parent
    mark = hashlib.sha256(b"".join(p.read_bytes() for p in sorted(here.glob("*.py")))).hexdigest()[:16]
    beside = here / "__pycache__"
    if os.access(beside if beside.exists() else here, os.W_OK):
        return beside / f"compiled-{mark}"
    home = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    return Path(home) / "nestwright" / f"compiled-{mark}"


os.environ.setdefault("NUMBA_CACHE_DIR", str(_cache_folder()))
