"""The tables of the workshop's record.

Units stand in the column's name and are those of files and screens: mL, mm, g, cm2, percent, days. Days are local
calendar days as ISO text; moments are UTC milliseconds since 1970. `uid` marks a row that may be sent twice: the second
time it is known and not written again.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

__all__ = ["RECORD", "SERIES", "metadata"]

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(column_0_label)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _id() -> Column[int]:
    return Column("id", Integer, primary_key=True)


def _uid() -> Column[str]:
    return Column("uid", Text, nullable=False, unique=True)


def _of(table: str, *, needed: bool = False, name: str = "", gone: str = "RESTRICT") -> Column[int]:
    return Column(name or f"{table}_id", Integer, ForeignKey(f"{table}.id", ondelete=gone), nullable=not needed)


def _text(name: str, *, needed: bool = False, unique: bool = False) -> Column[str]:
    """Text; what is not told is "", never null, unless it must be told."""
    return Column(name, Text, nullable=False, unique=unique, server_default=None if needed else "")


def _number(name: str, *, needed: bool = False) -> Column[float]:
    return Column(name, Float, nullable=not needed)


def _day(name: str, *, needed: bool = False) -> Column[str]:
    rule = CheckConstraint(f"{name} IS NULL OR {name} GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'", name=name)
    return Column(name, Text, rule, nullable=not needed)


def _moment(name: str, *, needed: bool = False) -> Column[int]:
    return Column(name, BigInteger, nullable=not needed)


def _one_of(name: str, *allowed: str, needed: bool = True) -> Column[str]:
    words = ", ".join(f"'{word}'" for word in allowed)
    return Column(name, Text, CheckConstraint(f"{name} IN ({words})", name=name), nullable=not needed)


workshop = Table("workshop", metadata, Column("key", Text, primary_key=True), _text("value"))

build = Table(
    "build",
    metadata,
    _id(),
    _text("serial", needed=True, unique=True),
    _text("habitat", needed=True),  # file of the design, under habitats/
    _text("revision"),
    _day("made"),
    _text("stands"),  # where: a room's file or words of the user's own
    _day("ended"),
    _text("note"),
)

measured = Table(
    "measured",
    metadata,
    _id(),
    _of("build", needed=True, gone="CASCADE"),
    _text("what", needed=True),  # a value of the design, as chamber.garden.volume, or words
    _text("value", needed=True),  # with its unit, as "118.4 mm"
    _day("day"),
    _text("note"),
)

quality = Table(
    "quality",
    metadata,
    _id(),
    _of("build", needed=True, gone="CASCADE"),
    _text("what", needed=True),
    Column("passed", Boolean),  # null: not looked at yet
    _text("value"),
    _day("day"),
    _text("note"),
)

colony = Table(
    "colony",
    metadata,
    _id(),
    _text("name", needed=True, unique=True),
    _text("species", needed=True),
    _text("origin"),
    _day("start", needed=True),
    _one_of("queen", "laying", "unknown", "none"),
    _number("arrival_garden_ml"),
    _number("arrival_garden_error_pct"),
    _text("arrival_workers"),
    _text("arrival_brood"),
    _one_of("leaves", "free", "recorded"),
    _text("climate"),  # logger file beside the workshop, until loggers are in the record
    _number("chamber_ml"),
    _number("opening_mm"),
    _number("lid_mm"),
    _number("headroom_mm"),
    _number("making_days"),
    _number("chamber_days"),
    _day("ended"),
    _text("end_reason"),
    _text("note"),
)

stay = Table(
    "stay",
    metadata,
    _id(),
    _of("colony", needed=True, gone="CASCADE"),
    _of("build", needed=True),
    _day("day", needed=True),
    _text("note"),
    UniqueConstraint("colony_id", "day"),
)

bell = Table(
    "bell",
    metadata,
    _id(),
    _of("colony", needed=True, gone="CASCADE"),
    _day("day", needed=True),
    _one_of("kind", "bell", "chamber"),
    _text("name"),
    _number("usable_ml"),
    _number("diameter_mm"),
    _number("height_mm"),
)

visit = Table(
    "visit",
    metadata,
    _id(),
    _uid(),
    _of("colony", needed=True, gone="CASCADE"),
    _day("day", needed=True),
    _moment("at"),
    _moment("written", needed=True),
    _number("garden_ml"),
    _number("fill_pct"),
    _number("garden_error_pct"),
    _text("health"),
    _number("leaves_taken"),
    _one_of("leaves_taken_unit", "g", "cm2", needed=False),
    _number("waste_g"),
    _text("note"),
    Index("ix_visit_colony_day", "colony_id", "day"),
)

count = Table(
    "count",
    metadata,
    _id(),
    _of("visit", needed=True, gone="CASCADE"),
    _text("what", needed=True),
    _one_of("kind", "exact", "guess", "band"),
    _number("low", needed=True),
    _number("high", needed=True),
    UniqueConstraint("visit_id", "what"),
)

brood = Table(
    "brood",
    metadata,
    _id(),
    _of("visit", needed=True, gone="CASCADE"),
    _one_of("stage", "eggs", "larvae", "pupae"),
    Column("seen", Boolean, nullable=False),
    UniqueConstraint("visit_id", "stage"),
)

feeding = Table(
    "feeding",
    metadata,
    _id(),
    _of("visit", needed=True, gone="CASCADE"),
    _text("plant"),
    _number("amount", needed=True),
    _one_of("unit", "g", "cm2"),
)

event = Table(
    "event",
    metadata,
    _id(),
    _uid(),
    _of("colony", needed=True, gone="CASCADE"),
    _of("visit", gone="CASCADE"),
    _day("day", needed=True),
    _text("what", needed=True),  # in the words of the colony file
    _text("amount"),  # as the colony file has it: "20 mL", "30 %", "about 25"
    _text("plant"),
    _of("colony", name="other_id"),  # the colony that gave, or that received
    _text("note"),
    Index("ix_event_colony_day", "colony_id", "day"),
)

parcel = Table(
    "parcel",
    metadata,
    _id(),
    _uid(),
    _one_of("direction", "in", "out"),
    _of("colony"),
    _of("build"),
    _day("sent"),
    _day("arrived"),
    _text("carrier"),
    _text("state"),  # on arrival
    _text("note"),
    _text("name"),  # by which it is spoken of; "": by its number
    _text("route"),  # from where to where and how, as "Bath to York, night post": delays are learned by it
    _text("file"),  # of the parcel: its box, packs and journey, under parcels/
    _text("box"),
    _text("pack"),
    _number("promised_hours"),  # from hand-over to delivery, as the carrier says
    _moment("sent_at"),
    _moment("arrived_at"),
    _number("garden_ml"),  # found on arrival
    _text("garden_health"),
    _text("workers_alive"),  # as the colony file has counts: "about 60"
    _text("workers_dead"),
    _of("logger", gone="SET NULL"),  # that travelled inside
    _text("predicted"),  # JSON: what was computed at dispatch
)

parcel_scan = Table(
    "parcel_scan",
    metadata,
    _id(),
    _uid(),
    _of("parcel", needed=True, gone="CASCADE"),
    _moment("at", needed=True),
    _text("place"),
    _text("note"),
    Index("ix_parcel_scan_parcel_at", "parcel_id", "at"),
)

buyer = Table(
    "buyer",
    metadata,
    _id(),
    _uid(),
    _text("name", needed=True),
    _text("contact"),  # one way to reach them, in their words
    _day("since", needed=True),
    _day("erased"),  # on request: name and contact are gone from then on
    _text("note"),
)

sale = Table(
    "sale",
    metadata,
    _id(),
    _uid(),
    _of("build", needed=True),
    _of("buyer", needed=True),
    _day("day", needed=True),
    _number("price"),
    _text("currency"),  # ISO 4217
    _of("parcel", gone="SET NULL"),
    _day("returned"),
    _text("reason"),  # of the return
)

feedback = Table(
    "feedback",
    metadata,
    _id(),
    _uid(),
    _of("build", needed=True, gone="CASCADE"),
    _day("day", needed=True),
    _one_of("kind", "praise", "question", "fault"),
    _text("words", needed=True),
)

stock = Table(
    "stock",
    metadata,
    _id(),
    _uid(),
    _day("day", needed=True),
    _text("part", needed=True),
    _text("habitat"),  # stem of the design that it is a part of
    _text("revision"),
    Column("change", Integer, nullable=False),  # pieces that came, or went (below nought)
    _text("note"),
)

photo = Table(
    "photo",
    metadata,
    _id(),
    _uid(),
    _of("colony"),
    _of("build"),
    _of("visit", gone="SET NULL"),
    _text("file", needed=True, unique=True),  # under photos/
    _text("sha256", needed=True),
    _moment("taken"),
    Column("width", Integer),
    Column("height", Integer),
    _text("measured"),  # JSON of the measurement of its garden
    _text("note"),
)

logger = Table(
    "logger",
    metadata,
    _id(),
    _text("name", needed=True, unique=True),
    _text("mapping"),  # TOML: how its files are read
    _text("note"),
)

channel = Table(
    "channel",
    metadata,
    _id(),
    _of("logger", needed=True, gone="CASCADE"),
    _text("name", needed=True),
    _text("quantity", needed=True),
    _text("unit"),
    _number("wanted_error"),  # largest standard uncertainty that is good enough, in the channel's unit
    UniqueConstraint("logger_id", "name"),
)

placement = Table(
    "placement",
    metadata,
    _id(),
    _of("logger", needed=True, gone="CASCADE"),
    _of("build"),
    _of("colony"),
    _text("chamber"),  # of the habitat; "" = the room
    _moment("since", needed=True),
    _moment("until"),
    _text("note"),
)

calibration = Table(
    "calibration",
    metadata,
    _id(),
    _of("channel", needed=True, gone="CASCADE"),
    _moment("at", needed=True),
    _text("document", needed=True),  # JSON: points, fit and covariance
    _text("note"),
)

alarm = Table(
    "alarm",
    metadata,
    _id(),
    _text("key", needed=True),  # what it is about; one open alarm a key
    _text("kind", needed=True),
    _of("colony", gone="CASCADE"),
    _of("build", gone="CASCADE"),
    _of("logger", gone="CASCADE"),
    _text("message", needed=True),
    _number("value"),
    _moment("raised", needed=True),
    _moment("seen", needed=True),  # last time that its reason held
    _moment("ended"),
    _moment("acknowledged"),
    _moment("snoozed"),  # until
    _moment("sent"),
    Index("ix_alarm_key", "key"),
)

change = Table(
    "change",
    metadata,
    _id(),
    Column("step", Integer, nullable=False, index=True),  # changes of one act of the user share it
    _moment("at", needed=True),
    _text("act", needed=True),  # in words, as "visit of Marigold"
    _text("of_table", needed=True),
    Column("row", Integer, nullable=False),
    _text("before"),  # JSON; "" where the row is new
    _text("after"),  # JSON; "" where the row is gone
    Column("undoes", Integer),  # the step that this one took back
)

reading = Table(
    "reading",
    metadata,
    Column("channel_id", Integer, ForeignKey("channel.id", ondelete="CASCADE"), primary_key=True),
    Column("at", BigInteger, primary_key=True),
    Column("value", Float, nullable=False),  # raw, in the channel's unit: corrections are made when it is read
    sqlite_with_rowid=False,
)

rollup = Table(
    "rollup",
    metadata,
    Column("channel_id", Integer, ForeignKey("channel.id", ondelete="CASCADE"), primary_key=True),
    Column("hour", Integer, primary_key=True),  # hours since 1970, UTC
    Column("n", Integer, nullable=False),
    Column("low", Float, nullable=False),
    Column("high", Float, nullable=False),
    Column("total", Float, nullable=False),
    sqlite_with_rowid=False,
)

SERIES = (reading, rollup)
"""Tables of readings: written in bulk, without history."""
RECORD = tuple(t for t in metadata.sorted_tables if t not in (*SERIES, change, alarm))
"""Tables of what a person records: every change is kept and can be taken back, but that of a setting (`workshop`)."""
