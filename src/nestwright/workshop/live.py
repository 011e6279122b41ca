"""Live readings into a workshop: from a broker, through a door for simple sensors, or both, until told to stop."""

from __future__ import annotations

import asyncio
import os
import socket

from nestwright.errors import InputError
from nestwright.sensing.live.mapping import Broker, Clock, LiveMapping
from nestwright.workshop.folder import Workshop
from nestwright.workshop.live_intake import Intake
from nestwright.workshop.live_refused import note_refused
from nestwright.workshop.live_tally import Tally

__all__ = ["listen", "password_of"]


def password_of(broker: Broker) -> str | None:
    """The password for a broker, from the environment; None where none is asked for. Raises InputError."""
    if not broker.password_env:
        return None
    password = os.environ.get(broker.password_env)
    if password is None:
        raise InputError("is not set: it must hold the broker's password", field=broker.password_env)
    return password


async def listen(
    workshop: Workshop,
    mapping: LiveMapping | None,
    tally: Tally,
    stop: asyncio.Event,
    *,
    broker: Broker | None = None,
    http: socket.socket | None = None,
) -> None:
    """Take readings until `stop` is set; then everything that came is committed and acknowledged before this returns.

    Parameters
    ----------
    mapping : how the broker's messages are read; its clock limits hold for `http` too.
    broker : where to listen; None for no broker.
    http : an open socket on which readings may be posted; None for none.

    Raises
    ------
    InputError
        When the broker refuses us at the first connection, or its password is not in the environment. Faults of the
        disk and of the connection are told in `tally` and tried again.
    """
    intake = Intake(workshop.engine, tally)
    writing = asyncio.create_task(intake.run())
    over = asyncio.Event()
    noting = asyncio.create_task(note_refused(workshop, tally, over))
    sources: list[asyncio.Task[None]] = []
    if broker is not None and mapping is not None:
        from nestwright.workshop.live_broker import listen_to_broker

        password = password_of(broker)
        sources.append(asyncio.create_task(listen_to_broker(workshop, broker, mapping, intake, tally, password, stop)))
    if http is not None:
        from nestwright.workshop.live_door import door, serve

        app = door(workshop, intake, tally, mapping.clock if mapping else Clock.usual())
        sources.append(asyncio.create_task(serve(app, http, stop)))
    every = asyncio.ensure_future(_all(sources))
    try:
        # one that fails ends the others too
        await asyncio.wait([every, writing], return_when=asyncio.FIRST_COMPLETED)
    finally:
        stop.set()
        await asyncio.gather(every, *sources, return_exceptions=True)
        intake.close()
        await asyncio.gather(writing, return_exceptions=True)
        over.set()
        await asyncio.gather(noting, return_exceptions=True)
    for task in (writing, noting, *sources):
        task.result()


async def _all(tasks: list[asyncio.Task[None]]) -> None:
    """Wait for all of them; the first that fails ends the waiting."""
    await asyncio.gather(*tasks)
