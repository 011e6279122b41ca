"""What the pieces of these tests do; in a module, so that other processes find it."""

import os
import time
from pathlib import Path

import numpy as np


def drawn(seed):
    return float(np.random.default_rng(seed).standard_normal(1000).sum())


def refused(piece):
    from nestwright.errors import FileError, InputError

    raise FileError([InputError("no", file="a.toml", line=k) for k in range(1, piece)])


def noted(piece):
    """Leaves a file with the process that works on a piece; takes a moment."""
    folder, k, seconds = piece
    (Path(folder) / f"{k}-{os.getpid()}").touch()
    time.sleep(seconds)
    return k, drawn(k)


def killed_once(piece):
    """Kills its process, the first time."""
    folder, k = piece
    mark = Path(folder) / str(k)
    if not mark.exists():
        mark.touch()
        os.kill(os.getpid(), 9)
    return k
