"""How messages of sensors become readings: which topics, what stands where in a message, which clock counts."""

from __future__ import annotations

from dataclasses import dataclass

from nestwright.sensing.live.topics import Pattern
from nestwright.sensing.live.values import live_value

__all__ = ["PAYLOADS", "TIME_FORMS", "Broker", "Clock", "LiveMapping", "Topic", "Wanted"]

PAYLOADS = ("number", "json")
TIME_FORMS = ("iso", "s", "ms")
Path = tuple[str | int, ...]


@dataclass(frozen=True)
class Broker:
    """Where the broker is and how it is entered. `password_env`: environment variable with the password; `ca`: file of
    the certificate that signs the broker's, "" for those that the computer knows; `client`: our name at the broker, ""
    for one made for the workshop."""

    host: str
    port: int
    tls: bool = False
    ca: str = ""
    user: str = ""
    password_env: str = ""
    client: str = ""


@dataclass(frozen=True)
class Clock:
    """How far a reading's own time may be after or before its arrival, s; beyond it the time of arrival is kept."""

    ahead: float
    behind: float

    @classmethod
    def usual(cls) -> Clock:
        """The limits of data/live.toml."""
        return cls(live_value("ahead"), live_value("behind"))


@dataclass(frozen=True)
class Wanted:
    """One channel in a topic's messages.

    `part` is the text of the topic's {channel} that it has, `at` its place in a JSON message, `unit_at` the place of
    its unit; `unit` what its values are in; `low` and `high` the plausible range in the canonical unit of the quantity.
    """

    channel: str
    quantity: str
    unit: str
    part: str = ""
    at: Path = ()
    unit_at: Path = ()
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Topic:
    """Messages of one pattern. `time_at` is the place of the time, () for the time of arrival; `keep`: the broker keeps
    what comes while we are away."""

    pattern: Pattern
    payload: str
    wanted: tuple[Wanted, ...]
    logger: str = ""
    time_at: Path = ()
    time_form: str = "iso"
    zone: str = ""
    keep: bool = True

    @property
    def qos(self) -> int:
        """Quality of service to ask for: 1, at least once, where messages are kept."""
        return 1 if self.keep else 0


@dataclass(frozen=True)
class LiveMapping:
    """A whole mapping; `broker` is None where the file names none."""

    broker: Broker | None
    clock: Clock
    topics: tuple[Topic, ...]

    def topic_of(self, topic: str) -> tuple[Topic, dict[str, str]] | None:
        """The first pattern that takes a topic, and its named parts."""
        for one in self.topics:
            parts = one.pattern.match(topic)
            if parts is not None:
                return one, parts
        return None
