"""Plugin of pytest: every compiled kernel as plain Python, so that its lines can be counted and changed."""

import os
import sys

os.environ["NUMBA_DISABLE_JIT"] = "1"
# psychrolib, which tests compare with, takes numba where it finds it and fails where that compiles nothing
sys.modules["numba"] = None  # type: ignore[assignment]
import psychrolib  # noqa: E402, F401

del sys.modules["numba"]
