"""A function applied to each of many pieces, wherever the work is done; the results in the order of the pieces.

What is computed does not depend on where: a piece carries all that it needs, its seed among it, and what is made of the
results is made of them in order. So a worker that dies costs the time of the pieces that it had, and nothing else.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Future, wait
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, Protocol, TypeVar

__all__ = ["Place", "chosen", "each", "working_at"]

P = TypeVar("P")
R = TypeVar("R")

AHEAD = 4
"""Pieces handed out per worker: enough that none waits for the next, few enough to hold in memory."""
MOST_DEATHS = 20
"""Times in one call that workers may die before it is the work that kills them."""
PATIENCE = 5.0
"""Seconds without a result after which the place is asked whether anybody is there still."""


class Place(Protocol):
    """Where pieces are worked on. A future of `submit` fails with BrokenExecutor when its worker is gone for good."""

    @property
    def workers(self) -> int: ...

    def submit(self, work: Callable[[Any], Any], piece: Any) -> Future[Any]: ...

    def look(self) -> None:
        """Raises InputError when nobody is left to do the work."""

    def drop(self, futures: Sequence[Future[Any]]) -> None:
        """Give up what was handed out and is not done; workers that died are replaced where this place can."""

    def __enter__(self) -> Place: ...

    def __exit__(self, *error: object) -> None: ...


_chosen: ContextVar[Place | None] = ContextVar("place", default=None)


def chosen() -> Place | None:
    """The place of the `working_at` around, or None."""
    return _chosen.get()


@contextmanager
def working_at(place: Place | None) -> Iterator[None]:
    """Within it every `each` of this thread works at `place`, which is opened and closed here; None changes nothing."""
    if place is None:
        yield
        return
    with place as opened:
        token = _chosen.set(opened)
        try:
            yield
        finally:
            _chosen.reset(token)


def each(
    work: Callable[[P], R],
    pieces: Sequence[P],
    progress: Callable[[float], None] | None = None,
    *,
    otherwise: Callable[[], Place],
    arrived: Callable[[int, R], None] | None = None,
) -> list[R]:
    """`[work(piece) for piece in pieces]`, done at the place of `working_at`.

    Parameters
    ----------
    work : a function of a module, so that other processes find it; it must not change anything but its result.
    progress : called with the share of the pieces that are done.
    otherwise : makes the place where none was chosen.
    arrived : called with index and result of each piece as it comes, in any order: for those who keep them.

    Raises
    ------
    What `work` raises, of the first piece whose error comes; the pieces not yet begun are then dropped, as they are at
    an interrupt. BrokenExecutor when workers die again and again.
    """
    place = _chosen.get()
    if place is not None:
        return _each(place, work, pieces, progress, arrived)
    with otherwise() as own:
        return _each(own, work, pieces, progress, arrived)


def _each(
    place: Place,
    work: Callable[[P], R],
    pieces: Sequence[P],
    progress: Callable[[float], None] | None,
    arrived: Callable[[int, R], None] | None,
) -> list[R]:
    results: dict[int, R] = {}
    waiting, running, deaths = deque(range(len(pieces))), dict[Future[Any], int](), 0
    try:
        while waiting or running:
            broken = False
            while waiting and len(running) < AHEAD * place.workers and not broken:
                try:
                    running[place.submit(work, pieces[waiting[0]])] = waiting[0]
                    waiting.popleft()
                except BrokenExecutor:
                    broken = True
            done = wait(running, PATIENCE, FIRST_COMPLETED).done if running else set()
            if not done and not broken:
                place.look()
            for future in done:
                try:
                    result = future.result()
                except BrokenExecutor:
                    broken = True
                    continue
                k = running.pop(future)
                results[k] = result
                if arrived is not None:
                    arrived(k, result)
            if broken:
                deaths += 1
                if deaths > MOST_DEATHS:
                    raise BrokenExecutor("workers died again and again: too little memory, or a piece that kills them")
                waiting.extendleft(sorted(running.values(), reverse=True))
                place.drop(list(running))
                running.clear()
                place.look()
            if progress is not None and done:
                progress(len(results) / len(pieces))
    except BaseException:
        place.drop(list(running))
        raise
    return [results[k] for k in range(len(pieces))]
