"""Packs and boxes learned from parcels that had a logger inside: their files computed as they really went."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from nestwright.data import read_values
from nestwright.document import Document
from nestwright.parcel.file import parcel_from
from nestwright.parcel.learning import Belief, Learned, Logged, learn_values
from nestwright.parcel.model import Parcel

__all__ = ["BoxRun", "box_beliefs", "box_run", "learn_boxes", "moved_to", "sent_at"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class BoxRun:
    """A parcel as it went: its name, the parcel with its real dispatch, hours later than promised, and its log."""

    name: str
    parcel: Parcel
    delay: float
    log: Logged

    def course(self, values: Mapping[str, float], hours: Array) -> Array:
        """The computed temperature in the cup at these hours from dispatch, K."""
        from nestwright.parcel.carry import course_of

        found = course_of(self.parcel, delay_hours=self.delay, values=values)
        return np.asarray(np.interp(3600 * hours, found.time, found.cup))


def moved_to(document: Document, moment: datetime) -> Document:
    """A parcel file as it would stand for another dispatch, its promise moved along."""
    tables = dict(document.tables)
    sent = tables.get("dispatch")
    if isinstance(sent, datetime) and isinstance(tables.get("promised"), datetime):
        tables["promised"] = moment + (tables["promised"] - sent)
    return replace(document, tables=tables | {"dispatch": moment})


def sent_at(document: Document, moment: datetime) -> Parcel:
    """The parcel of a file sent at another moment, its promise moved along. Raises FileError."""
    return parcel_from(moved_to(document, moment))


def box_run(name: str, document: Document, sent: datetime, hours: float, log: Logged) -> BoxRun:
    """A parcel that was on its way for so many hours. Raises FileError."""
    parcel = sent_at(document, sent)
    return BoxRun(name, parcel, max(0.0, hours - parcel.hours), log)


def box_beliefs(parcel: Parcel) -> list[Belief]:
    """What is free in a fit, with its prior: packs only where there are some."""
    v = {k: one.value for k, one in read_values("parcel_risk.toml").items()}
    packs = [
        Belief("pack.power_factor", "factor", 1.0, float(np.hypot(v["pack_power_all"], v["pack_power_each"]))),
        Belief("pack.start_factor", "factor", 1.0, v["pack_start_each"]),
    ]
    box = [
        Belief("box.leak_factor", "factor", 1.0, v["leak_all"]),
        Belief("box.conductance_factor", "factor", 1.0, v["conductance_all"]),
        Belief("outside.offset", "shift", 0.0, float(np.hypot(v["outside_all"], v["outside_each"]))),
    ]
    return [*(packs if parcel.packs else []), *box]


def learn_boxes(runs: list[BoxRun], progress: Callable[[float], None] | None = None) -> Learned:
    """Values that all these parcels share: heat and begin of packs, leaks and walls of the box, outside air.

    Raises ValueError for no parcel.
    """
    done = 0

    def told(run: BoxRun) -> Callable[[Mapping[str, float], Array], Array]:
        def course(values: Mapping[str, float], hours: Array) -> Array:
            nonlocal done
            done += 1
            if progress:
                progress(1.0 - 1.0 / (1.0 + done / (20.0 * len(runs))))
            return run.course(values, hours)

        return course

    return learn_values([(told(run), run.log) for run in runs], box_beliefs(runs[0].parcel))
