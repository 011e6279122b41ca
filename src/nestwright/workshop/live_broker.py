"""Listening to an MQTT broker: a message is acknowledged after its readings are in the record, never before.

The session is a lasting one (clean session off, one fixed name), so that the broker keeps what comes while we are away
and sends again what was not acknowledged (MQTT 3.1.1, OASIS Standard 2014, sections 3.1.2.4 and 4.4). The library
acknowledges by itself as soon as it hands a message over; here it is told not to, and each message is acknowledged by
hand, in the order in which they came (section 4.6).
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import logging
import random
import secrets
import ssl
from typing import Any
from zoneinfo import ZoneInfo

import aiomqtt

from nestwright.errors import InputError
from nestwright.sensing.live.mapping import Broker, LiveMapping
from nestwright.sensing.live.messages import Fault, Message, read_message
from nestwright.sensing.live.values import live_value
from nestwright.workshop.changes import now
from nestwright.workshop.folder import Workshop
from nestwright.workshop.live_intake import Intake
from nestwright.workshop.live_store import Parcel
from nestwright.workshop.live_tally import Tally

__all__ = ["listen_to_broker"]

_KEEPALIVE = 30
_NOT_ALLOWED = (133, 134, 135)
"""Answers of a broker that trying again does not change: client name, user or password, not authorised."""


async def listen_to_broker(
    workshop: Workshop,
    broker: Broker,
    mapping: LiveMapping,
    intake: Intake,
    tally: Tally,
    password: str | None,
    stop: asyncio.Event,
) -> None:
    """Listen until `stop`; a lost connection is made again, with longer and longer waits.

    Raises InputError when the broker refuses us at the first connection, or the certificate's file cannot be read.
    """
    name, context, zone = broker.client or _name_of(workshop), _tls(broker), workshop.zone
    place = f"{broker.host}:{broker.port}"
    loop = asyncio.get_running_loop()
    wait, ever = live_value("retry_first"), False
    while not stop.is_set():
        # what is in memory is written first; the broker keeps the rest
        await _either(intake.room(), stop.wait())
        if stop.is_set():
            return
        tally.broker = f"connecting to {place}"
        began = loop.time()
        client = aiomqtt.Client(
            broker.host,
            broker.port,
            username=broker.user or None,
            password=password,
            identifier=name,
            clean_session=False,
            keepalive=_KEEPALIVE,
            tls_context=context,
            logger=_silent(),
        )
        line = _Line(client, mapping, intake, tally, zone)
        try:
            async with client:
                await _subscribe(client, workshop, place, mapping)
                ever = True
                tally.broker = f"connected to {place}"
                try:
                    await line.until(stop)
                finally:
                    await line.end(stop.is_set())
        except (aiomqtt.MqttError, OSError) as error:
            code = getattr(getattr(error, "rc", None), "value", None)
            if code in _NOT_ALLOWED and not ever:
                raise InputError("the broker refuses us", file=place, found=_said(error)) from None
            tally.broker = f"not connected to {place}: {_said(error)}"
        except InputError as error:
            # the disk is full, or the broker's rules were changed: that may pass
            if not ever:
                raise
            tally.broker = f"not listening to {place}: {error}"
        finally:
            line.over = True
        if loop.time() - began > live_value("retry_longest"):
            wait = live_value("retry_first")
        # drawn at random: the clients of a broker that comes back should not all come at one instant
        await _either(asyncio.sleep(wait * random.uniform(0.5, 1.0)), stop.wait())
        wait = min(2 * wait, live_value("retry_longest"))


class _Line:
    """One connection: what it brings goes to the intake, what is kept is acknowledged while it lasts."""

    def __init__(
        self, connection: aiomqtt.Client, mapping: LiveMapping, intake: Intake, tally: Tally, zone: ZoneInfo
    ) -> None:
        self.connection, self.mapping, self.intake, self.tally, self.zone = connection, mapping, intake, tally, zone
        self.over = False
        self.broken = asyncio.Event()
        self.pausing: asyncio.Task[None] | None = None
        # the library has no word of its own for acknowledging by hand; the client that it is made on has
        self.client: Any = connection._client
        self.client.manual_ack_set(True)
        self.client.on_message = self._take

    def _take(self, client: Any, _: Any, message: Any) -> None:
        arrival = now()
        try:
            topic = message.topic
            read = read_message(self.mapping, topic, message.payload, arrival, retained=message.retain, zone=self.zone)
        except UnicodeDecodeError:
            topic, read = "a topic that is no text", Message(faults=(Fault("unreadable", "its topic is not UTF-8"),))
        self.tally.messages += 1
        self.tally.missing += read.missing
        self.tally.refuse(arrival, topic, read.faults, message.payload)
        mid, qos = message.mid, message.qos

        def kept(_: tuple[str, ...]) -> None:
            # a number counts on the connection it came on; on a later one it is another message's
            if qos and not self.over:
                self.client.ack(mid, qos)

        # also what is refused goes through the intake: acknowledgements keep the order of the messages
        self.intake.bring(Parcel(read.readings), topic, kept)
        if self.intake.full and self.pausing is None:
            self._pause()

    def _pause(self) -> None:
        """Read no more from the connection until there is room: the broker then waits as well."""
        socket = self.client.socket()
        if socket is None:
            return
        loop = asyncio.get_running_loop()
        place = socket.fileno()
        loop.remove_reader(place)

        async def resume() -> None:
            await self.intake.room()
            self.pausing = None
            now_there = self.client.socket()
            if not self.over and now_there is not None and now_there.fileno() == place:
                loop.add_reader(place, self._read)
                self._read()

        self.pausing = loop.create_task(resume())

    def _read(self) -> None:
        try:
            while True:
                self.client.loop_read()
                socket = self.client.socket()
                # an encrypted connection may hold more than the system knows of
                if self.pausing or not (hasattr(socket, "pending") and socket.pending()):
                    return
        except Exception:
            self.broken.set()

    async def until(self, stop: asyncio.Event) -> None:
        """Wait for the end of the connection, or for `stop`. Raises MqttError when the connection was lost."""
        # messages go past the library's own queue: its iterator has only the end to tell
        await _either(anext(self.connection.messages), stop.wait(), self.broken.wait())

    async def end(self, orderly: bool) -> None:
        """Acknowledge what is being written, where there is time for it, and then nothing more."""
        if self.pausing is not None:
            self.pausing.cancel()
        if orderly:
            if (socket := self.client.socket()) is not None:
                asyncio.get_running_loop().remove_reader(socket.fileno())
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self.intake.idle(), live_value("request_patience"))
        self.over = True


async def _subscribe(client: aiomqtt.Client, workshop: Workshop, place: str, mapping: LiveMapping) -> None:
    """Ask for the mapping's topics, and no longer for those of an earlier one, which a lasting session remembers."""
    before = json.loads(workshop.setting("live.filters") or "{}")
    wanted = [(topic.pattern.filter, topic.qos) for topic in mapping.topics]
    old = [one for one in before.get(place, []) if one not in dict(wanted)]
    if set(before.get(place, [])) != set(dict(wanted)):
        # told to the record first: what is asked for and then forgotten could never be taken back
        workshop.set("live.filters", json.dumps({**before, place: [*old, *dict(wanted)]}))
    if old:
        await client.unsubscribe(old)
        workshop.set("live.filters", json.dumps({**before, place: list(dict(wanted))}))
    answers: Any = await client.subscribe(wanted)
    for (one, _), answer in zip(wanted, answers, strict=False):
        if int(getattr(answer, "value", answer)) >= 128:
            raise InputError("the broker does not let us hear this topic", file=place, field=one)


def _name_of(workshop: Workshop) -> str:
    """Our name at brokers: made once for a workshop."""
    name = workshop.setting("live.client")
    if not name:
        name = f"nestwright-{secrets.token_hex(5)}"  # 21 letters; brokers need not take more than 23
        workshop.set("live.client", name)
    return name


def _tls(broker: Broker) -> ssl.SSLContext | None:
    if not broker.tls:
        return None
    try:
        return ssl.create_default_context(cafile=broker.ca or None)
    except (OSError, ssl.SSLError) as error:
        raise InputError("cannot be read as a certificate", file=broker.ca, found=str(error)[:80]) from None


def _silent() -> logging.Logger:
    """A log that goes nowhere: what matters is in the tally, and a packet's content is nobody's."""
    log = logging.getLogger("nestwright.live")
    log.propagate = False
    log.disabled = True
    return log


def _said(error: BaseException) -> str:
    rc = getattr(error, "rc", None)
    text = str(rc if rc is not None and not isinstance(rc, int) else error) or type(error).__name__
    cause = error.__cause__
    return (
        text if cause is None or text != "Disconnected during message iteration" else "the connection was lost"
    ).lower()


async def _either(*these: Any) -> None:
    """Wait for the first of these, and drop the others. Raises what it raised."""
    tasks = [asyncio.ensure_future(one) for one in these]
    try:
        done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
    for task in done:
        task.result()
