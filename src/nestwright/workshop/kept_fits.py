"""Fits of the record's colonies, kept beside it: `today`, `forecast` and `plan` of one record need the same one."""

from __future__ import annotations

import hashlib
import io
import math
from collections.abc import Callable
from dataclasses import astuple
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright import __version__
from nestwright.errors import InputError

if TYPE_CHECKING:
    from nestwright.colony.fit import Posterior
    from nestwright.colony.model import Colony
    from nestwright.colony.problem import Problem
    from nestwright.colony.sampler import Sample

__all__ = ["FITS", "MOST", "kept_fit"]

FITS = Path(".cache") / "fits"
MOST = 60
"""Fits that are kept, those used last: a quarter of a megabyte each."""
FORM = 1


def kept_fit(folder: Path, colony: Colony, progress: Callable[[float], None] | None = None) -> Posterior:
    """The posterior of a colony of the workshop in `folder`: kept, or fitted now and kept.

    It is known again by the numbers that the fit rests on and by nothing else, so that a changed note, name or horizon
    makes no new one, and a changed card does. `progress` is called with the share of a fit that is done.
    """
    from nestwright.colony.fit import Posterior, fit
    from nestwright.colony.problem import pose

    problem = pose(colony, None)
    file = folder / FITS / f"{_digest(problem)}.npz"
    sample = _read(file, len(problem.free))
    if sample is not None:
        return Posterior(problem, sample)
    made = fit(colony, progress=progress)
    _keep(file, made.sample)
    return made


def _digest(problem: Problem) -> str:
    """What a fit rests on, in a few letters."""
    import numpy as np

    told = hashlib.sha256(f"{FORM} {__version__} {problem.days} {problem.room!r}".encode())
    for one in (problem.base, problem.climate, *problem.events, *problem.record, *problem.mapping):
        array = np.ascontiguousarray(one)
        told.update(f"{array.shape} {array.dtype}".encode())
        told.update(array.tobytes())
    told.update(repr([astuple(one) for one in problem.free]).encode())
    return told.hexdigest()[:32]


def _read(file: Path, dimensions: int) -> Sample | None:
    """A kept sample; None where there is none or it is damaged."""
    import zipfile

    import numpy as np

    from nestwright.colony.sampler import Sample

    try:
        with np.load(file, allow_pickle=False) as kept:
            draws, likelihood, evidence = kept["draws"], kept["log_likelihood"], kept["evidence"]
        numbers: list[Any] = [draws, likelihood, evidence]
        whole = all(one.dtype == np.float64 and np.isfinite(one).all() for one in numbers)
        if not whole or draws.ndim != 2 or draws.shape[1] != dimensions or evidence.shape != (2,):
            return None
        if not len(draws) or likelihood.shape != (len(draws),):
            return None
        file.touch()
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None
    return Sample(draws, likelihood, float(evidence[0]), float(evidence[1]))


def _keep(file: Path, sample: Sample) -> None:
    import numpy as np

    from nestwright.files import write_whole

    if not math.isfinite(sample.log_evidence) or not math.isfinite(sample.error):
        return
    content = io.BytesIO()
    evidence = np.array([sample.log_evidence, sample.error])
    np.savez(content, draws=sample.draws, log_likelihood=sample.log_likelihood, evidence=evidence)
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        write_whole(file, content.getvalue())
        by_use = sorted(file.parent.glob("*.npz"), key=lambda one: one.stat().st_mtime, reverse=True)
        for old in by_use[MOST:]:
            old.unlink()
    except (OSError, InputError):
        # where nothing can be written it is made anew each time: slower, not wrong
        return
