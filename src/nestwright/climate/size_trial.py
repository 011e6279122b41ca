"""One choice of free values: the design made with it, brought to rest in every room, and held against its limits."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.limits import BoundLimit, bound_limits
from nestwright.climate.proof import NotSettled, settled
from nestwright.climate.reading import limit_values
from nestwright.climate.size_free import Free
from nestwright.climate.size_points import RoomPoints
from nestwright.data import load_species
from nestwright.errors import InputError
from nestwright.habitat.assemble import Assembly, assemble
from nestwright.habitat.file import Document, with_values
from nestwright.network.builder import Network
from nestwright.pieces import Threads, chosen, each

Array = NDArray[np.float64]
REFUSED = -1000.0
"""Score of a choice that is no valid design, or finds no rest: below any margin."""


@dataclass(frozen=True)
class End:
    """One end of a limit's band."""

    name: str
    limit: BoundLimit
    low: bool

    @property
    def bound(self) -> float:
        bound = self.limit.low if self.low else self.limit.high
        assert bound is not None
        return bound

    def margin(self, value: Array) -> Array:
        """Scaled margin."""
        inside = value - self.bound if self.low else self.bound - value
        return inside / self.limit.tolerance


@dataclass(frozen=True)
class Trial:
    """Scaled margins of a choice in every room, shape (ends, rooms), and the values in SI there."""

    texts: tuple[str, ...]
    margins: Array
    values: Array

    @property
    def worst(self) -> float:
        return float(self.margins.min())

    @property
    def by_end(self) -> Array:
        return np.asarray(self.margins.min(axis=1))


def limit_ends(assembly: Assembly) -> tuple[End, ...]:
    found = []
    for b in bound_limits(assembly):
        if b.low is not None:
            found.append(End(f"{b.name}, at least", b, True))
        if b.high is not None:
            found.append(End(f"{b.name}, at most", b, False))
    return tuple(found)


class Trials:
    """Every choice tried so far, by the text that it writes into the file."""

    def __init__(
        self,
        document: Document,
        free: Sequence[Free],
        rooms: Sequence[RoomPoints],
        progress: Callable[[int, float], None] | None = None,
    ) -> None:
        self.document, self.free, self.rooms, self.progress = document, tuple(free), tuple(rooms), progress
        self.seen: dict[tuple[str, ...], Trial | None] = {}
        self.refusals: list[str] = []
        self.ends: tuple[End, ...] = ()
        self.best: Trial | None = None
        self._like: list[Network | None] = [None] * len(self.rooms)

    def __call__(self, values: Sequence[float]) -> float:
        """Worst scaled margin of free values in SI, `REFUSED` where there is none."""
        found = self.at(values)
        return REFUSED if found is None else found.worst

    def at(self, values: Sequence[float]) -> Trial | None:
        texts = tuple(f.text(v) for f, v in zip(self.free, values, strict=True))
        if texts not in self.seen:
            self._keep(texts, self.solve(texts, self._changes(texts)))
        return self.seen[texts]

    def ahead(self, choices: Sequence[Sequence[float]]) -> None:
        """Try choices that are soon asked for, all at once where `pieces.working_at` names a place; else when they are
        asked for: a search lasts seconds, and to start processes takes as long."""
        if chosen() is None:
            return
        fresh = [tuple(f.text(v) for f, v in zip(self.free, values, strict=True)) for values in choices]
        fresh = [texts for texts in dict.fromkeys(fresh) if texts not in self.seen]
        pieces = [(self.document, self.rooms, self.ends, texts, self._changes(texts)) for texts in fresh]
        for texts, (found, refusal) in zip(fresh, each(_tried, pieces, otherwise=Threads), strict=True):
            self._keep(texts, found, refusal)

    def solve(self, texts: tuple[str, ...], changes: Mapping[str, str]) -> Trial | None:
        """Bring the design with these changes to rest in every room; None when it is refused."""
        found, refusal, self.ends = _solve(self.document, self.rooms, self.ends, texts, changes, self._like)
        if refusal:
            self.refusals.append(refusal)
        return found

    def _changes(self, texts: tuple[str, ...]) -> dict[str, str]:
        return {f.key: text for f, text in zip(self.free, texts, strict=True)}

    def _keep(self, texts: tuple[str, ...], found: Trial | None, refusal: str = "") -> None:
        self.seen[texts] = found
        if refusal:
            self.refusals.append(refusal)
        if found is not None and (self.best is None or found.worst > self.best.worst):
            self.best = found
        if self.progress is not None and self.best is not None:
            self.progress(len(self.seen), self.best.worst)


Ends = tuple[End, ...]
Piece = tuple[Document, tuple[RoomPoints, ...], Ends, tuple[str, ...], dict[str, str]]


def _tried(piece: Piece) -> tuple[Trial | None, str]:
    """One choice by itself, and why it was refused."""
    document, rooms, ends, texts, changes = piece
    found, refusal, _ = _solve(document, rooms, ends, texts, changes, [None] * len(rooms))
    return found, refusal


def _solve(
    document: Document,
    rooms: Sequence[RoomPoints],
    ends: Ends,
    texts: tuple[str, ...],
    changes: Mapping[str, str],
    like: list[Network | None],
) -> tuple[Trial | None, str, Ends]:
    """The choice, why it was refused, and the ends of its limits; `like` keeps the structure of the networks."""
    try:
        habitat = with_values(document, changes)
        card = load_species(habitat.species)
        margins, values = [], []
        for k, group in enumerate(rooms):
            assembly = assemble(
                habitat, card, pressure=group.pressure, room_co2=group.co2, room_o2=group.o2, like=like[k]
            )
            like[k] = assembly.network
            ends = ends or limit_ends(assembly)
            states = _settle(assembly, group)
            read = limit_values(assembly, states)
            here = np.array([read[(e.limit.zone, e.limit.quantity)] for e in ends])
            values.append(here)
            margins.append(np.array([e.margin(v) for e, v in zip(ends, here, strict=True)]))
    except (InputError, NotSettled) as problem:
        return None, str(problem), ends
    both = np.concatenate(margins, axis=1)
    if not np.isfinite(both).all():
        return None, "the air of this design has no finite state", ends
    return Trial(texts, both, np.concatenate(values, axis=1)), "", ends


def _settle(assembly: Assembly, group: RoomPoints) -> Array:
    network = assembly.network
    states = np.zeros((len(group.temperature), network.net.size))
    for i, (t, e) in enumerate(zip(group.temperature.tolist(), group.vapour_pressure.tolist(), strict=True)):
        # From the same cold start as the proof: air can have more than one state of rest, and one reached from
        # the last choice or room would make the result hang on the path of the search.
        states[i], _ = settled(assembly, t, e)
    return states
