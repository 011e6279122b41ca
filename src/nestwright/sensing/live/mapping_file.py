"""The mapping of live readings as a TOML file that a person writes."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from nestwright.document import Document, load_document, read_document
from nestwright.errors import FileError, InputError, nearest_name
from nestwright.kinds import check_kind
from nestwright.positions import line_of
from nestwright.sensing.live.mapping import PAYLOADS, TIME_FORMS, Broker, Clock, LiveMapping, Topic, Wanted
from nestwright.sensing.live.messages import canonical, name_fault
from nestwright.sensing.live.topics import Pattern, PatternProblem, overlap, read_pattern
from nestwright.sensing.loggers.words import words
from nestwright.sensing.loggers.zones import check_zone
from nestwright.units import UnitProblem, parse_quantity

__all__ = ["load_live_mapping", "read_live_mapping"]

TOP = ("format", "broker", "clock", "topic")
BROKER = ("host", "port", "tls", "ca", "user", "password_env", "client")
CLOCK = ("ahead", "behind")
TOPIC = ("pattern", "payload", "logger", "time", "time_form", "zone", "keep", "value")
VALUE = ("channel", "part", "at", "quantity", "unit", "unit_at", "low", "high")
_VARIABLE = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
_CLIENT = re.compile(r"[A-Za-z0-9_-]{1,64}")
Where = tuple[str | int, ...]


def read_live_mapping(path: str | Path) -> LiveMapping:
    """The mapping of a TOML file. Raises InputError (several as FileError) with line, field and what is allowed."""
    return _Reader(read_document(path)).mapping()


def load_live_mapping(text: str, path: str = "") -> LiveMapping:
    """As `read_live_mapping`, from a text; `path` is shown in errors."""
    return _Reader(load_document(text, path)).mapping()


class _Reader:
    """Takes keys out of tables; gathers what is wrong with them."""

    def __init__(self, document: Document) -> None:
        self.document, self.errors = document, list[InputError]()

    def fail(self, where: Where, message: str, found: Any = None, allowed: str = "", known: Sequence[str] = ()) -> None:
        self.errors.append(
            InputError(
                message,
                file=self.document.path,
                line=line_of(self.document.lines, where),
                field=str(where[-1]),
                found="" if found is None else repr(found)[:80],
                allowed=allowed or ", ".join(known),
                nearest=nearest_name(found, known) if isinstance(found, str) else "",
            )
        )

    def table(self, value: Any, where: Where, known: Sequence[str]) -> dict[str, Any]:
        if not isinstance(value, dict):
            self.fail(where, "is not a table", value)
            return {}
        for key in value:
            if key not in known:
                self.fail((*where, key), "is no key here", key, known=known)
        return value

    def tables(self, value: Any, where: Where, known: Sequence[str]) -> list[dict[str, Any]]:
        if not isinstance(value, list) or not value:
            self.fail(where, "must be told at least once, as [[...]]", value or None)
            return []
        return [self.table(one, (*where, k), known) for k, one in enumerate(value)]

    def text(self, table: dict[str, Any], where: Where, default: str | None = None, known: Sequence[str] = ()) -> str:
        value = table.get(str(where[-1]), default)
        if value is None:
            self.fail(where, "is missing", allowed=", ".join(known))
        elif not isinstance(value, str):
            self.fail(where, "is not a text", value, known=known)
        elif known and value not in known and value != default:
            self.fail(where, "is not known", value, known=known)
        else:
            return value
        return ""

    def yes(self, table: dict[str, Any], where: Where, default: bool) -> bool:
        value = table.get(str(where[-1]), default)
        if not isinstance(value, bool):
            self.fail(where, "is neither true nor false", value, "true, false")
            return default
        return value

    def number(self, table: dict[str, Any], where: Where) -> float | None:
        value = table.get(str(where[-1]))
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e12:
            self.fail(where, "is no number", value)
            return None
        return float(value)

    def place(self, table: dict[str, Any], where: Where) -> tuple[str | int, ...]:
        """A place in JSON: "air.temp", or ["air.x", 0] where a key has a dot."""
        value = table.get(str(where[-1]), "")
        if isinstance(value, list) and value and all(isinstance(v, str | int) for v in value):
            return tuple(v if isinstance(v, str) else int(v) for v in value)
        if isinstance(value, str):
            steps = tuple(value.split(".")) if value else ()
            if all(steps):
                return steps
        self.fail(where, "is no place in a message", value, 'a path as "air.temperature" or ["air", "temperature"]')
        return ()

    def span(self, table: dict[str, Any], where: Where, kind: str, default: float) -> float:
        value = table.get(str(where[-1]))
        if value is None:
            return default
        try:
            return parse_quantity(value, kind)
        except UnitProblem as problem:
            self.fail(where, problem.message, value, problem.allowed)
            return default

    def mapping(self) -> LiveMapping:
        check_kind(self.document, "live readings")
        raw = self.table(self.document.tables, (), TOP)
        if raw.get("format") != 1 or isinstance(raw.get("format"), bool):
            self.fail(("format",), "is not a mapping of this program", raw.get("format"), "1")
        broker = self.broker(raw["broker"]) if "broker" in raw else None
        clock = self.table(raw.get("clock", {}), ("clock",), CLOCK)
        usual = Clock.usual()
        limits = Clock(
            self.span(clock, ("clock", "ahead"), "time", usual.ahead),
            self.span(clock, ("clock", "behind"), "interval", usual.behind),
        )
        topics = [
            self.topic(one, ("topic", k)) for k, one in enumerate(self.tables(raw.get("topic"), ("topic",), TOPIC))
        ]
        for k, one in enumerate(topics):
            for earlier in topics[:k]:
                if overlap(one.pattern, earlier.pattern):
                    self.fail(
                        ("topic", k, "pattern"),
                        f"could take a topic that {earlier.pattern.text!r} takes too",
                        one.pattern.text,
                        "patterns of which each topic fits one; a pattern may have several [[topic.value]]",
                    )
        if self.errors:
            raise self.errors[0] if len(self.errors) == 1 else FileError(self.errors)
        return LiveMapping(broker, limits, tuple(topics))

    def broker(self, value: Any) -> Broker:
        table = self.table(value, ("broker",), (*BROKER, "password"))
        if "password" in table:
            self.fail(
                ("broker", "password"),
                "must not stand in a file",
                allowed='password_env = "NAME" of an environment variable that holds it',
            )
        host = self.text(table, ("broker", "host"))
        if "host" in table and (not host.strip() or any(c.isspace() or not c.isprintable() for c in host)):
            self.fail(("broker", "host"), "is no name or address", host)
        tls, ca = self.yes(table, ("broker", "tls"), False), self.text(table, ("broker", "ca"), "")
        if ca and not tls:
            self.fail(("broker", "ca"), "is of use with tls = true only", ca)
        port = table.get("port", 8883 if tls else 1883)
        if isinstance(port, bool) or not isinstance(port, int) or not 1 <= port <= 65535:
            self.fail(("broker", "port"), "is no port", port, "1 to 65535")
            port = 1883
        variable = self.text(table, ("broker", "password_env"), "")
        if variable and not _VARIABLE.fullmatch(variable):
            # not shown: it may be the password itself
            self.fail(("broker", "password_env"), "is no name of an environment variable", allowed="as NEST_PASSWORD")
        user = self.text(table, ("broker", "user"), "")
        if variable and not user:
            self.fail(("broker", "password_env"), "is of use with a user only", allowed='user = "NAME" beside it')
        client = self.text(table, ("broker", "client"), "")
        if client and not _CLIENT.fullmatch(client):
            self.fail(("broker", "client"), "is no name for a client", client, "up to 64 letters, digits, - and _")
        return Broker(host, port, tls, ca, user, variable, client)

    def topic(self, table: dict[str, Any], where: Where) -> Topic:
        text = self.text(table, (*where, "pattern"))
        pattern = Pattern("", ("",))
        try:
            if text or "pattern" in table:
                pattern = read_pattern(text)
        except PatternProblem as problem:
            self.fail((*where, "pattern"), problem.message, text, problem.allowed)
        payload = self.text(table, (*where, "payload"), "number", PAYLOADS)
        logger = self.text(table, (*where, "logger"), "")
        if "logger" in pattern.names and logger:
            self.fail((*where, "logger"), "is told by the pattern too", logger)
        elif "logger" not in pattern.names and (wrong := name_fault(logger)):
            self.fail((*where, "logger"), wrong if logger else "is missing: name it, or a part {logger} of the pattern")
        time_at = self.place(table, (*where, "time"))
        if time_at and payload != "json":
            self.fail((*where, "time"), 'is of use with payload = "json" only', allowed="none: the time of arrival")
        form = self.text(table, (*where, "time_form"), "iso", TIME_FORMS)
        zone = self.text(table, (*where, "zone"), "")
        if zone:
            try:
                check_zone(zone, file=self.document.path, line=line_of(self.document.lines, (*where, "zone")))
            except InputError as error:
                self.errors.append(error)
        values = self.tables(table.get("value"), (*where, "value"), VALUE)
        wanted = tuple(
            self.wanted(one, (*where, "value", k), payload, "channel" in pattern.names) for k, one in enumerate(values)
        )
        if payload == "number" and "channel" not in pattern.names and len(wanted) > 1:
            self.fail((*where, "value", 1), "a plain number is one value", allowed="a part {channel} of the pattern")
        for k, one in enumerate(wanted):
            if one.channel and one.channel in [w.channel for w in wanted[:k]]:
                self.fail((*where, "value", k, "channel"), "stands twice", one.channel)
        return Topic(
            pattern, payload, wanted, logger, time_at, form, zone, self.yes(table, (*where, "keep"), bool(time_at))
        )

    def wanted(self, table: dict[str, Any], where: Where, payload: str, by_part: bool) -> Wanted:
        known = words()
        channel = self.text(table, (*where, "channel"))
        if "channel" in table and isinstance(table["channel"], str) and (wrong := name_fault(channel)):
            self.fail((*where, "channel"), wrong, channel)
        part = self.text(table, (*where, "part"), "")
        if part and not by_part:
            self.fail((*where, "part"), "is of use with a part {channel} of the pattern only", part)
        at, unit_at = self.place(table, (*where, "at")), self.place(table, (*where, "unit_at"))
        if payload == "json" and "at" not in table:
            self.fail(
                (*where, "at"), "is missing: the place of the value in the message", allowed='as "air.temperature"'
            )
        for key in ("at", "unit_at"):
            if payload == "number" and key in table:
                self.fail((*where, key), 'is of use with payload = "json" only', table[key])
        quantity = self.text(table, (*where, "quantity"), known=(*known.quantities, "other"))
        units = known.quantities[quantity].units if quantity in known.quantities else ()
        unit = self.text(table, (*where, "unit"), "" if unit_at or quantity == "other" else None, units)
        low, high = self.number(table, (*where, "low")), self.number(table, (*where, "high"))
        if low is not None and high is not None and not low < high:
            self.fail((*where, "high"), "is not above low", high, f"more than {low:g}")
        # told in the unit of the values, held against them in the quantity's own
        low, high = (x if x is None else canonical(x, unit, quantity)[0] for x in (low, high))
        return Wanted(channel, quantity, unit, (part or channel) if by_part else "", at, unit_at, low, high)
