"""The last live messages that were not taken, kept in the record: by source and reason, counted, with an excerpt.

They are one setting of the workshop and no table: a few lines, which any listener may replace and nobody undoes.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from sqlalchemy import Connection, insert, select, update

from nestwright.errors import InputError
from nestwright.sensing.live.values import live_value
from nestwright.workshop.changes import now
from nestwright.workshop.database import writing
from nestwright.workshop.folder import Workshop
from nestwright.workshop.live_tally import Counted, Tally
from nestwright.workshop.tables import workshop as settings

__all__ = ["keep_refused", "kept_refused", "note_refused"]

KEY = "live.refused"
DAY = 86_400_000


def kept_refused(connection: Connection) -> tuple[Counted, ...]:
    """What was refused in the last days, the newest first."""
    text = connection.execute(select(settings.c.value).where(settings.c.key == KEY)).scalar()
    since = now() - live_value("refused_days") * DAY
    return tuple(one for one in _read(str(text or "[]")) if one.last >= since)


def _read(text: str) -> list[Counted]:
    """The setting as it was written; none where it was not written by us."""
    try:
        return [Counted(**row) for row in json.loads(text)]
    except (ValueError, TypeError):
        return []


def keep_refused(workshop: Workshop, fresh: Iterable[Counted]) -> None:
    """Count what was refused now to what is kept already. Raises InputError like `writing`."""
    with writing(workshop.engine) as connection:
        text = connection.execute(select(settings.c.value).where(settings.c.key == KEY)).scalar()
        since = now() - live_value("refused_days") * DAY
        every = {one.key: one for one in _read(str(text or "[]")) if one.last >= since}
        for one in fresh:
            before = every.get(one.key)
            every[one.key] = one if before is None else replace(one, first=before.first, count=before.count + one.count)
        value = json.dumps([one.to_dict() for one in _newest(every.values())], ensure_ascii=False)
        if text is None:
            connection.execute(insert(settings).values(key=KEY, value=value))
        else:
            connection.execute(update(settings).where(settings.c.key == KEY).values(value=value))


def _newest(every: Iterable[Counted]) -> list[Counted]:
    """The newest first, so many of a source and so many in all: one sensor gone mad does not hide the others."""
    kept: list[Counted] = []
    of_source: dict[str, int] = {}
    for one in sorted(every, key=lambda r: -r.last):
        of_source[one.source] = of_source.get(one.source, 0) + 1
        if of_source[one.source] <= live_value("refused_of_source"):
            kept.append(one)
    return kept[: int(live_value("refused_kept"))]


async def note_refused(workshop: Workshop, tally: Tally, over: asyncio.Event) -> None:
    """Keep what a listener refuses, now and then, until it is over, and then once more."""
    ended: Any = False
    while not ended:
        try:
            ended = await asyncio.wait_for(over.wait(), live_value("refused_every"))
        except TimeoutError:
            ended = False
        fresh, tally.unkept = tally.unkept, {}
        if fresh:
            try:
                await asyncio.to_thread(keep_refused, workshop, list(fresh.values()))
            except InputError:  # a held database, a full disk: with the next ones
                for one in fresh.values():
                    tally.count(one)
