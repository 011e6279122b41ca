"""Readings on their way into the record: gathered, committed together, and only then said to be kept."""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

from sqlalchemy import Engine
from sqlalchemy.exc import DatabaseError

from nestwright.errors import InputError
from nestwright.sensing.live.messages import Fault
from nestwright.sensing.live.values import live_value
from nestwright.workshop.changes import now
from nestwright.workshop.live_store import Memory, Parcel, Written, store_parcels
from nestwright.workshop.live_tally import Tally

__all__ = ["Intake"]


@dataclass(frozen=True)
class _Waiting:
    parcel: Parcel
    source: str
    kept: Callable[[tuple[str, ...]], None]


class Intake:
    """Takes parcels of readings in order and writes them in batches.

    A parcel's `kept` is called, in the order in which the parcels came, after its readings are committed, with the
    reasons why some were refused. While the database is held or the disk is full, parcels stay and are tried again.
    """

    def __init__(self, engine: Engine, tally: Tally) -> None:
        self.engine, self.tally = engine, tally
        self.most = int(live_value("waiting_messages"))
        self._waiting: deque[_Waiting] = deque()
        self._changed = asyncio.Event()
        self._room = asyncio.Event()
        self._room.set()
        self._idle = asyncio.Event()
        self._idle.set()
        self._closing = asyncio.Event()
        self._memory = Memory()

    @property
    def full(self) -> bool:
        """Whether nothing more should be brought for now."""
        return not self._room.is_set()

    async def room(self) -> None:
        """Wait until there is room."""
        await self._room.wait()

    async def idle(self) -> None:
        """Wait until everything that was brought is written."""
        await self._idle.wait()

    def bring(self, parcel: Parcel, source: str, kept: Callable[[tuple[str, ...]], None]) -> None:
        """Bring a parcel; it is taken even when there is no room."""
        self._waiting.append(_Waiting(parcel, source, kept))
        self.tally.waiting = len(self._waiting)
        if len(self._waiting) >= self.most:
            self._room.clear()
        self._idle.clear()
        self._changed.set()

    def close(self) -> None:
        """Let `run` end when all is written, or at the first fault of the disk from now on."""
        self._closing.set()
        self._changed.set()

    async def run(self) -> None:
        """Write what is brought until closed."""
        while True:
            if not self._waiting:
                self._idle.set()
                if self._closing.is_set():
                    return
                self._changed.clear()
                await self._changed.wait()
                continue
            await self._gather()
            batch = [self._waiting[k] for k in range(min(len(self._waiting), int(live_value("batch_messages"))))]
            if not await self._write(batch):
                return

    async def _gather(self) -> None:
        """Wait until a batch is full, nothing came for a moment, or it has waited long enough."""
        loop = asyncio.get_running_loop()
        end = loop.time() + live_value("batch_time")
        while len(self._waiting) < live_value("batch_messages") and not self._closing.is_set():
            left = min(live_value("batch_silence"), end - loop.time())
            self._changed.clear()
            try:
                await asyncio.wait_for(self._changed.wait(), max(left, 0))
            except TimeoutError:
                return

    async def _write(self, batch: list[_Waiting]) -> bool:
        """Write a batch and say so; False when it was given up because the program is to end."""
        wait = live_value("retry_first")
        while True:
            try:
                done = await asyncio.to_thread(self._commit, batch)
                break
            except InputError as error:
                self.tally.trouble = f"{error}; {len(self._waiting)} messages wait and are tried again"
                if self._closing.is_set():
                    return False
                try:
                    await asyncio.wait_for(self._closing.wait(), wait)
                except TimeoutError:
                    wait = min(2 * wait, live_value("retry_longest"))
        self.tally.trouble = ""
        for one, reasons in zip(batch, done.refused, strict=True):
            self._waiting.popleft()
            self.tally.refuse(now(), one.source, [Fault("unit", reason) for reason in reasons])
            if not (reasons and one.parcel.whole):
                self.tally.took(one.parcel.readings)
            one.kept(reasons)
        self.tally.kept += done.stored.added
        self.tally.known += done.stored.same
        self.tally.differing += done.stored.differing
        self.tally.waiting = len(self._waiting)
        if len(self._waiting) <= self.most // 2:
            self._room.set()
        return True

    def _commit(self, batch: list[_Waiting]) -> Written:
        parcels = [one.parcel for one in batch]
        try:
            return store_parcels(self.engine, parcels, self._memory)
        except DatabaseError as error:
            # no fault of the disk: some reading in the batch; the others must not suffer for it
            if len(batch) == 1:
                from nestwright.workshop.readings import Stored

                return Written(Stored(0, 0, 0), ((f"the record refuses it: {error.orig}",),))
            each = [self._commit([one]) for one in batch]
            total = each[0].stored
            for one in each[1:]:
                total += one.stored
            return Written(total, tuple(w.refused[0] for w in each))
