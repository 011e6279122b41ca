"""`nestwright listen`: live readings from a broker and from simple sensors, into the record."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nestwright.cli.record import AsJson, InWorkshop

if TYPE_CHECKING:
    from nestwright.sensing.live.mapping import Broker, LiveMapping
    from nestwright.workshop.folder import Workshop
    from nestwright.workshop.live_tally import Tally

__all__ = ["listen"]

KINDS = {"unit": "refused", "token": "without the token", "unknown": "of topics that the mapping does not know"}


def listen(
    mapping: Annotated[
        Path | None,
        typer.Argument(help="Which messages become readings, a TOML file; not needed for --http.", show_default=False),
    ] = None,
    broker: Annotated[
        str, typer.Option("--broker", help="Broker as HOST or HOST:PORT, instead of the mapping's.", show_default=False)
    ] = "",
    http: Annotated[
        int | None,
        typer.Option("--http", min=0, max=65535, help="Let sensors post readings on this port; 0 finds a free one."),
    ] = None,
    host: Annotated[
        str, typer.Option("--host", help="Address for --http; 0.0.0.0 lets other computers in, not encrypted.")
    ] = "127.0.0.1",
    new_token: Annotated[
        bool, typer.Option("--new-token", help="Make a new token for --http, show it once, and end.")
    ] = False,
    every: Annotated[
        float, typer.Option("--every", min=1, max=86400, help="Seconds between two lines of what came in.")
    ] = 10.0,
    seconds: Annotated[
        float | None, typer.Option("--for", min=1, help="End by itself after so many seconds.", show_default=False)
    ] = None,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Take live readings from an MQTT broker, or posted over HTTP, into the workshop's record, until Ctrl-C.

    A message is acknowledged after its readings are in the record, so that nothing acknowledged is lost.
    """
    import asyncio

    from nestwright.cli.record import tell, workshop_of
    from nestwright.errors import InputError
    from nestwright.workshop.live_token import has_token
    from nestwright.workshop.live_token import new_token as make_token

    workshop = workshop_of(folder)
    if new_token:
        token = make_token(workshop)
        tell(json, {"token": token}, f"Token: {token}\nIt is shown this once; the one before is void.")
        return
    read, at = _asked(mapping, broker, http)
    if http is not None and not has_token(workshop):
        raise InputError("needs a token first", field="--http", allowed="`nestwright listen --new-token`, once")
    asyncio.run(_run(workshop, read, at, http, host, every, seconds, json))


def _asked(mapping: Path | None, broker: str, http: int | None) -> tuple[LiveMapping | None, Broker | None]:
    """The mapping and where to listen. Raises InputError."""
    from dataclasses import replace

    from nestwright.errors import InputError
    from nestwright.sensing.live.mapping import Broker
    from nestwright.sensing.live.mapping_file import read_live_mapping
    from nestwright.workshop.live import password_of

    if mapping is None:
        if http is None or broker:
            raise InputError(
                "is missing", field="MAPPING", allowed="a file as examples/workshop/live.toml, or --http PORT"
            )
        return None, None
    read = read_live_mapping(mapping)
    at = read.broker
    if broker:
        name, _, port = broker.rpartition(":") if broker.count(":") == 1 else (broker, "", "")
        told = int(port) if port.isascii() and port.isdecimal() and len(port) < 6 else 0
        if not name or any(c.isspace() for c in name) or (broker.count(":") == 1 and not 1 <= told <= 65535):
            raise InputError("is no broker", field="--broker", found=repr(broker), allowed="HOST or HOST:PORT")
        at = replace(at, host=name, port=told or at.port) if at else Broker(name, told or 1883)
    if at is None and http is None:
        raise InputError(
            "names no broker", file=str(mapping), allowed='[broker] with host = "...", or --broker HOST, or --http PORT'
        )
    if at is not None:
        password_of(at)
    return read, at


async def _run(
    workshop: Workshop,
    mapping: LiveMapping | None,
    broker: Broker | None,
    http: int | None,
    host: str,
    every: float,
    seconds: float | None,
    json: bool,
) -> None:
    import asyncio
    import contextlib
    import signal

    from nestwright.workshop.live import listen as take
    from nestwright.workshop.live_tally import Tally

    place = None
    if http is not None:
        from nestwright.workshop.live_door import open_socket

        place = open_socket(host, http)
    stop, tally = asyncio.Event(), Tally()
    loop = asyncio.get_running_loop()

    def end() -> None:
        stop.set()
        # a second Ctrl-C does not wait
        loop.remove_signal_handler(signal.SIGINT)

    for one in (signal.SIGINT, signal.SIGTERM):
        with contextlib.suppress(NotImplementedError):  # not on every system; there Ctrl-C ends at once
            loop.add_signal_handler(one, end)
    if not json:
        if place is not None:
            at = place.getsockname()
            print(
                f"Readings may be posted to http://{f'[{at[0]}]' if ':' in at[0] else at[0]}:{at[1]}/readings",
                flush=True,
            )
        print("Listening; Ctrl-C ends it.", flush=True)
    if seconds is not None:
        loop.call_later(seconds, stop.set)
    telling = asyncio.create_task(_tell(tally, every, json))
    try:
        await take(workshop, mapping, tally, stop, broker=broker, http=place)
    finally:
        telling.cancel()
    _say(tally, json, 0.0, 3, last=True)


async def _tell(tally: Tally, every: float, json: bool) -> None:
    """A line now and then: soon after the beginning, then in the interval asked for, when something changed."""
    import asyncio

    before, told, refused, wait = 0, "", 0, min(2.0, every)
    while True:
        await asyncio.sleep(wait)
        total = tally.kept + tally.known + tally.differing
        state = f"{total} {tally.refused} {tally.trouble} {tally.broker} {tally.requests}"
        if state != told:
            _say(tally, json, (total - before) / wait, min(3, tally.refused.total() - refused))
        before, told, refused, wait = total, state, tally.refused.total(), every


def _say(tally: Tally, json: bool, rate: float, fresh: int, last: bool = False) -> None:
    import json as jsons
    from datetime import datetime

    if json:
        print(jsons.dumps({"ended": last, "per_second": round(rate, 1), **tally.to_dict()}), flush=True)
        return
    clock = datetime.now().strftime("%H:%M:%S")
    parts = [f"{clock}  ended" if last else f"{clock}  {rate:.1f} readings/s", f"{tally.kept:,} kept"]
    counts = [
        (tally.known, "known already"),
        (tally.differing, "differ from what is there, which stays"),
        *((n, KINDS.get(kind, kind)) for kind, n in sorted(tally.refused.items())),
        (tally.clock_off, "with a false clock, kept at arrival"),
        (tally.waiting, "waiting"),
    ]
    parts += [f"{n:,} {what}" for n, what in counts if n]
    if tally.broker and not last and not tally.broker.startswith("connected"):
        parts.append(tally.broker)
    newest = sorted(tally.last.values(), key=lambda r: -r.at)[:4]
    parts += [f"{r.logger}.{r.channel} {r.value:.4g} {r.unit}".rstrip() for r in newest]
    more = len(tally.last) - len(newest)
    print(_clean("; ".join(parts) + (f"; and {more} more channels" if more > 0 else "")), flush=True)
    if tally.trouble:
        print(_clean(f"          not written: {tally.trouble}"), flush=True)
    for one in list(tally.last_refused)[-fresh:] if fresh else []:
        began = f"; began {one.began!r}" if one.began else ""
        print(_clean(f"          not taken: {one.source}: {one.reason}{began}"), flush=True)


def _clean(text: str) -> str:
    """What a sensor sends must not steer the terminal."""
    return "".join(c if c.isprintable() else "?" for c in text)
