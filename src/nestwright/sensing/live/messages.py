"""One message into readings: nothing that a sensor sends is taken on trust, and nothing that it sends raises."""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from nestwright.sensing.live.mapping import Clock, LiveMapping, Topic, Wanted
from nestwright.sensing.live.payload import Unreadable, json_of, number_of, place_in, time_of
from nestwright.sensing.live.values import live_value
from nestwright.sensing.loggers.words import words

__all__ = [
    "Fault",
    "Message",
    "Reading",
    "canonical",
    "clocked",
    "name_fault",
    "plausible",
    "read_message",
    "unit_named",
]

LONGEST_NAME = 80
"""Letters of a logger's or a channel's name."""


@dataclass(frozen=True)
class Reading:
    """One reading: `at` UTC ms, `value` in the canonical unit `unit` of its quantity; `timed` when the time is the
    sensor's own; `clock_off` by how many seconds its own time was off when the time of arrival was kept instead."""

    logger: str
    channel: str
    quantity: str
    unit: str
    at: int
    value: float
    timed: bool = False
    clock_off: float | None = None


@dataclass(frozen=True)
class Fault:
    """What of a message was not taken. `kind` is "unreadable", "implausible", "unit", "unknown" or "retained"."""

    kind: str
    reason: str


@dataclass(frozen=True)
class Message:
    """What a message held; `missing` counts values that it says it does not have."""

    readings: tuple[Reading, ...] = ()
    faults: tuple[Fault, ...] = ()
    missing: int = 0


def read_message(
    mapping: LiveMapping,
    topic: str,
    payload: bytes,
    arrival: int,
    *,
    retained: bool = False,
    zone: ZoneInfo | None = None,
) -> Message:
    """The readings of a message.

    Parameters
    ----------
    arrival : UTC ms.
    retained : the broker kept it as the topic's last one; such a one has no time of arrival.
    zone : of times that tell none, when the mapping tells none either; UTC for None.
    """
    found = mapping.topic_of(topic)
    if found is None:
        return _refused("unknown", "no pattern takes this topic")
    kind, parts = found
    logger = parts.get("logger", kind.logger)
    wrong = name_fault(logger)
    if wrong:
        return _refused("unknown", f"the logger's name {wrong}")
    wanted = kind.wanted
    if "channel" in parts:
        wanted = tuple(w for w in wanted if w.part == parts["channel"])
        if not wanted:
            return _refused("unknown", f"no channel is told for {parts['channel']!r:.60}")
    if len(payload) > live_value("message_bytes"):
        return _refused("unreadable", f"a message of {len(payload)} bytes")
    try:
        body = json_of(payload) if kind.payload == "json" else None
        own = _own_time(kind, body, zone)
    except Unreadable as problem:
        return _refused("unreadable", str(problem))
    if own is None and retained:
        return _refused("retained", "the topic's last message, of unknown age")
    at, off = clocked(own, arrival, mapping.clock)
    timed = own is not None and off is None
    readings: list[Reading] = []
    faults: list[Fault] = []
    missing = 0
    for one in wanted:
        try:
            value, unit = _value(kind, one, body, payload)
        except Unreadable as problem:
            faults.append(Fault(problem.kind, f"{one.channel}: {problem}"))
            continue
        if value is None:
            missing += 1
            continue
        sent = value
        value, named = canonical(sent, unit, one.quantity)
        reason = plausible(value, one.quantity, one.low, one.high, sent)
        if reason == "missing":
            missing += 1
        elif reason:
            faults.append(Fault("implausible", f"{one.channel}: {reason}"))
        else:
            readings.append(Reading(logger, one.channel, one.quantity, named, at, value, timed, off))
    if kind.payload == "json" and missing == len(wanted) and not any(_there(body, w) for w in wanted):
        return _refused("unreadable", "has none of the values that the mapping names")
    return Message(tuple(readings), tuple(faults), missing)


def _refused(kind: str, reason: str) -> Message:
    return Message(faults=(Fault(kind, reason),))


def _own_time(kind: Topic, body: object, zone: ZoneInfo | None) -> int | None:
    if not kind.time_at:
        return None
    told = place_in(body, kind.time_at)
    if told is None:
        raise Unreadable("tells no time")
    return time_of(told, kind.time_form, ZoneInfo(kind.zone) if kind.zone else zone)


def _there(body: object, one: Wanted) -> bool:
    return place_in(body, one.at) is not None


def _value(kind: Topic, one: Wanted, body: object, payload: bytes) -> tuple[float | None, str]:
    """The value as sent, None for none, and its unit."""
    if kind.payload == "json":
        value, behind = number_of(place_in(body, one.at))
        told = place_in(body, one.unit_at) if one.unit_at else None
        if told is not None:
            behind = told if isinstance(told, str) else repr(told)[:20]
    else:
        value, behind = number_of(payload.decode("utf-8", "replace"))
    unit = one.unit
    if behind and value is not None:
        unit = unit_named(behind, one.quantity, one.unit)
        if not unit or (one.unit and unit != one.unit):
            raise Unreadable(f"came in {behind!r:.40} and not in {one.unit or 'a known unit'}", "unit")
    if value is not None and not unit and one.quantity != "other":
        raise Unreadable("came without its unit", "unit")
    return value, unit


def unit_named(text: str, quantity: str, unit: str = "") -> str:
    """The unit of a quantity that a text names, "" for none.

    Examples
    --------
    >>> unit_named("°F", "temperature"), unit_named("degC", "temperature"), unit_named("ppm", "temperature")
    ('degF', 'degC', '')
    """
    known = words().quantities.get(quantity)
    plain = text.strip()
    if known is None:
        return plain if plain == unit else ""
    small = plain.lower()
    for name in known.units:
        spelt = words().units[name]
        if plain == name or small in spelt.spellings or small in spelt.alone:
            return name
    return ""


def canonical(value: float, unit: str, quantity: str) -> tuple[float, str]:
    """A value in the canonical unit of its quantity, and that unit's name."""
    known = words().units.get(unit)
    if quantity == "other" or known is None:
        return value, unit
    return (value + known.shift) * known.times / known.per, known.into


def plausible(
    value: float, quantity: str, low: float | None = None, high: float | None = None, sent: float | None = None
) -> str:
    """Why a value cannot be, "missing" where what was `sent` is a number that sensors send for none, "" when it can."""
    known = words().quantities.get(quantity)
    least = low if low is not None else known.low if known else None
    most = high if high is not None else known.high if known else None
    if (least is None or value >= least) and (most is None or value <= most):
        return ""
    if (value if sent is None else sent) in words().missing_numbers:
        return "missing"
    unit = f" {known.canonical}" if known else ""
    return f"{value:.6g}{unit} is outside {least if least is not None else '-'} to {most if most is not None else '-'}"


def clocked(own: int | None, arrival: int, clock: Clock) -> tuple[int, float | None]:
    """The time to keep, UTC ms, and by how many seconds the sensor's own was off where it was not kept."""
    if own is None:
        return arrival, None
    off = (own - arrival) / 1000
    if -clock.behind <= off <= clock.ahead:
        return own, None
    return arrival, off


def name_fault(name: str) -> str:
    """What is wrong with a name that came with a message, "" for nothing."""
    if not name.strip():
        return "is empty"
    if len(name) > LONGEST_NAME:
        return f"has {len(name)} letters"
    if not name.isprintable() or name != name.strip() or any("\ud800" <= c <= "\udfff" for c in name):
        return "has letters that cannot be seen"
    return ""
