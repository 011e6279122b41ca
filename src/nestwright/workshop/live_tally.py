"""What came in so far: how many, what was not taken and why, and the last reading of each channel."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from nestwright.sensing.live.messages import Fault, Reading

__all__ = ["Counted", "Refused", "Tally"]

_SHOWN = 2000
"""Channels whose last reading is remembered."""
_UNKEPT = 500
"""Sources and reasons that are counted until they are written down."""


@dataclass(frozen=True)
class Refused:
    """One message, or reading, that was not taken: when (UTC ms), where from, what kind, why, and how it began."""

    at: int
    source: str
    kind: str
    reason: str
    began: str = ""

    def to_dict(self) -> dict[str, Any]:
        return dict(self.__dict__)


@dataclass(frozen=True)
class Counted:
    """What was not taken of one source for one reason: the first and last time (UTC ms), how often, and how the last
    message began, in letters that can be seen."""

    source: str
    kind: str
    reason: str
    first: int
    last: int
    count: int = 1
    began: str = ""

    @property
    def key(self) -> tuple[str, str, str]:
        return self.source, self.kind, self.reason

    def to_dict(self) -> dict[str, Any]:
        return dict(self.__dict__)


def _seen(text: str, most: int) -> str:
    """A text of a sensor without what would steer a terminal or turn the line round."""
    return "".join(c if c.isprintable() else "?" for c in text[:most])


@dataclass
class Tally:
    """Counts of one run. `kept` readings are new in the record, `known` were there, `differing` were there with
    another value, which stays. `unkept` is what was refused and is not in the record yet. `trouble` says what keeps
    readings from being written, `broker` how the connection is.
    """

    messages: int = 0
    requests: int = 0
    kept: int = 0
    known: int = 0
    differing: int = 0
    missing: int = 0
    clock_off: int = 0
    waiting: int = 0
    refused: Counter[str] = field(default_factory=Counter)
    last_refused: deque[Refused] = field(default_factory=lambda: deque(maxlen=20))
    unkept: dict[tuple[str, str, str], Counted] = field(default_factory=dict)
    last: dict[tuple[str, str], Reading] = field(default_factory=dict)
    broker: str = ""
    trouble: str = ""

    def refuse(self, at: int, source: str, faults: Sequence[Fault], payload: bytes = b"") -> None:
        """Count what was not taken, and remember it."""
        began = payload[:60].decode("utf-8", "replace")
        for fault in faults:
            self.refused[fault.kind] += 1
            self.last_refused.append(Refused(at, source[:120], fault.kind, fault.reason[:200], began))
            self.count(Counted(_seen(source, 120), fault.kind, _seen(fault.reason, 200), at, at, 1, _seen(began, 60)))

    def count(self, one: Counted) -> None:
        """Count what was refused to what the record does not know of yet."""
        before = self.unkept.get(one.key)
        if before is not None:
            newer = one if one.last >= before.last else before
            one = replace(newer, first=min(one.first, before.first), count=one.count + before.count)
        elif len(self.unkept) >= _UNKEPT:
            return
        self.unkept[one.key] = one

    def took(self, readings: Sequence[Reading]) -> None:
        """Remember the last reading of each channel."""
        for one in readings:
            key = (one.logger, one.channel)
            if key in self.last or len(self.last) < _SHOWN:
                self.last[key] = one
            if one.clock_off is not None:
                self.clock_off += 1

    def to_dict(self) -> dict[str, Any]:
        """JSON form."""
        numbers = ("messages", "requests", "kept", "known", "differing", "missing", "clock_off", "waiting")
        return {
            **{name: getattr(self, name) for name in numbers},
            "refused": dict(self.refused),
            "last_refused": [r.to_dict() for r in self.last_refused],
            "last": [
                {"logger": r.logger, "channel": r.channel, "at": r.at, "value": r.value, "unit": r.unit}
                for r in self.last.values()
            ],
            "broker": self.broker,
            "trouble": self.trouble,
        }
