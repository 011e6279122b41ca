"""The form of the colony file: which tables and keys it has, of which kind, with which defaults.

Values come out in the colony's own units: mL, g, cm2, days, counts, and m for what must pass an opening. What the
keys mean together is not judged here but in `build`.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any, Literal, get_args

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import core_schema

from nestwright.colony.texts import (
    COUNT_PATTERN,
    Amount,
    Count,
    Leaf,
    parse_amount,
    parse_count,
    parse_day,
    parse_error,
    parse_garden,
    parse_leaf,
    parse_wait,
)
from nestwright.errors import nearest_name
from nestwright.letters import one_line, several_lines
from nestwright.refusals import Steps, keys_of
from nestwright.units import UnitProblem, parse_quantity, quantity_pattern, shown

__all__ = [
    "EVENTS",
    "TABLES",
    "ArrivalForm",
    "BellForm",
    "ColonyForm",
    "EventForm",
    "HousingForm",
    "VisitForm",
    "keys_at",
    "nearest_event",
]


@dataclass(frozen=True)
class Read:
    """Reads one value of the file; `tells` is its kind in the guide, `shape` its JSON Schema."""

    read: Callable[[Any], Any]
    tells: str
    shape: tuple[tuple[str, Any], ...]

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return dict(self.shape)


def _text(*kinds: str) -> tuple[tuple[str, Any], ...]:
    return (("type", "string"), ("pattern", f"^(?:{'|'.join(quantity_pattern(k) for k in kinds)})$"))


_COUNT_SHAPE = (("anyOf", [{"type": "integer", "minimum": 0}, {"type": "string", "pattern": COUNT_PATTERN}]),)
_AMOUNT_SHAPE = (
    (
        "anyOf",
        [
            {"type": "integer", "minimum": 0},
            {"type": "string", "pattern": COUNT_PATTERN},
            dict(_text("volume", "share", "mass", "area")),
        ],
    ),
)

READ_DAY = Read(parse_day, "day", (("type", "string"), ("pattern", r"^\d{4}-\d{2}-\d{2}$")))
READ_COUNT = Read(parse_count, "count", _COUNT_SHAPE)
READ_GARDEN = Read(parse_garden, "volume", _text("volume"))
READ_VOLUME = Read(lambda v: parse_quantity(v, "volume") * 1e6, "volume", _text("volume"))
READ_SHARE = Read(lambda v: parse_quantity(v, "share"), "share", _text("share"))
READ_ERROR = Read(parse_error, "share", _text("share"))
READ_LENGTH = Read(lambda v: parse_quantity(v, "length"), "length", _text("length"))
READ_WAIT = Read(parse_wait, "time", _text("interval"))
READ_MASS = Read(lambda v: parse_quantity(v, "mass") * 1e3, "mass", _text("mass"))
READ_LEAF = Read(parse_leaf, "leaves", _text("mass", "area"))
READ_AMOUNT = Read(parse_amount, "amount", _AMOUNT_SHAPE)

Day = Annotated[date, READ_DAY]
MaybeCount = Annotated[Count | None, READ_COUNT]
MaybeVolume = Annotated[float | None, READ_VOLUME]
MaybeGarden = Annotated[float | None, READ_GARDEN]
MaybeShare = Annotated[float | None, READ_SHARE]
MaybeError = Annotated[float | None, READ_ERROR]
MaybeLength = Annotated[float | None, READ_LENGTH]
MaybeWait = Annotated[float | None, READ_WAIT]
MaybeLeaf = Annotated[Leaf | None, READ_LEAF]
Note = Annotated[str, Field(max_length=2000), AfterValidator(several_lines)]
Name = Annotated[str, Field(min_length=1, max_length=200), AfterValidator(one_line)]
Words = Annotated[str, Field(max_length=200), AfterValidator(one_line)]
Stage = Literal["eggs", "larvae", "pupae"]
_Event = Literal[
    "garden added",
    "garden taken",
    "garden lost",
    "workers added",
    "workers taken",
    "workers lost",
    "eggs added",
    "larvae added",
    "pupae added",
    "brood lost",
    "queen lost",
    "queen laying",
    "bell",
    "leaves given",
]
EVENTS: tuple[str, ...] = get_args(_Event)
"""What can happen to a colony, in the words of the file."""

_MEANT = {
    "lost": "dead die dies died dying death deaths gone killed lose loses losing loss missing mould moulded moulds "
    "mouldy mold molded molds moldy rotten rotted rots spoilt spoiled spoils withered withers collapsed collapses",
    "taken": "removed remove took given-away sold",
    "added": "add new arrived donated",
    "workers": "worker ant ants",
    "garden": "fungus",
    "brood": "young",
}
"""Word of the file to what people write for it."""
_DIES = frozenset(["dead", "die", "dies", "died", "dying", "death", "deaths", "killed"])
_WORDS = {other: word for word, others in _MEANT.items() for other in others.split()}


@functools.lru_cache(maxsize=100)  # a table may have the same slip in every row
def nearest_event(told: str) -> str:
    """The event that is probably meant by words that are none: by their sense first ("queen dead"), then by letters."""
    words = {_WORDS.get(w, w) for w in re.findall(r"[a-z-]+", told.lower())}
    if "lost" in words and words & {"eggs", "larvae", "pupae"}:
        words |= {"brood"}
    by_sense = [event for event in EVENTS if " " in event and set(event.split()) <= words]
    return by_sense[0] if len(by_sense) == 1 else nearest_name(told, EVENTS)


def _event(value: Any) -> Any:
    if isinstance(value, str) and value not in EVENTS:
        told = set(re.findall(r"[a-z-]+", value[:200].lower()))
        if told & _DIES and not told - _DIES:
            message = "does not say who died: 'workers lost' or 'queen lost'"
            raise UnitProblem(message, shown(value), ", ".join(EVENTS))
        raise UnitProblem("unknown word", shown(value), ", ".join(EVENTS), nearest_event(value))
    return value


What = Annotated[_Event, BeforeValidator(_event)]


def _no_truth(value: Any) -> Any:
    """true is not the number 1, though Python takes one for the other."""
    return repr(value) if isinstance(value, bool | float) else value


def _table_or_path(value: str) -> str:
    """The cells of a table are looked at where they are read, with their lines."""
    return value if "\n" in value else one_line(value)


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class QueenForm(_Table):
    state: Literal["laying", "unknown", "none"] = Field("laying", description="on the first day; default: laying")


class ArrivalForm(_Table):
    garden: MaybeGarden = Field(None, description="garden that came")
    garden_error: MaybeError = Field(None, description="its relative standard error; default: a judgement of the data")
    workers: MaybeCount = Field(None, description="workers that came")
    brood: MaybeCount = Field(None, description="eggs, larvae and pupae that came, together")


class HousingForm(_Table):
    chamber: MaybeVolume = Field(None, description="usable volume of the whole garden chamber")
    opening: MaybeLength = Field(None, description="widest round thing that goes in without taking off the lid")
    lid: MaybeLength = Field(None, description="the same with the lid off")
    headroom: MaybeLength = Field(None, description="inner height of the garden chamber")
    making_time: MaybeWait = Field(None, description="time to make the next bell")
    chamber_time: MaybeWait = Field(None, description="time to make the next chamber")


class BellForm(_Table):
    from_: Day = Field(alias="from", description="first day under it; it stands from after that day's visit")
    kind: Literal["bell", "chamber"] = Field("bell", description="chamber: no bell, the whole chamber; default: bell")
    name: Words = Field("", description="its name; default: its kind and volume")
    usable: MaybeVolume = Field(None, description="volume that the garden can fill; a bell needs it")
    diameter: MaybeLength = Field(None, description="widest outer width, for passing an opening")
    height: MaybeLength = Field(None, description="outer height, for standing under the ceiling")


class VisitForm(_Table):
    date: Day = Field(description="day of the visit")
    garden: MaybeGarden = Field(None, description="garden volume; 0 mL when none is left")
    fill: MaybeShare = Field(None, description="instead: share of the bell or chamber that the garden fills")
    garden_error: MaybeError = Field(None, description="relative standard error of either; default: by how it was had")
    workers: MaybeCount = Field(None, description="workers of the whole colony")
    seen: list[Stage] = Field([], description="brood that was seen")
    not_seen: list[Stage] = Field([], description="brood that was looked for and not seen")
    leaves: MaybeLeaf = Field(None, description="leaves given at this visit, fresh")
    plant: Words = Field("", description="plant of these leaves, in words of your own")
    leaves_taken: MaybeLeaf = Field(
        None, description="leaves the ants took in, fresh, since leaves were last given or this was last told"
    )
    waste: Annotated[float | None, READ_MASS] = Field(
        None, description="waste taken away, wet, since waste was last taken away"
    )
    note: Note = Field("", description="anything worth telling")


class EventForm(_Table):
    date: Day = Field(description="day on which it happened")
    what: What = Field(description="what happened")
    amount: Annotated[Amount | None, READ_AMOUNT] = Field(None, description="how much, see below")
    plant: Words = Field("", description="plant, for leaves given")
    note: Note = Field("", description="anything worth telling")


class ColonyForm(_Table):
    """A colony of fungus-growing ants and its record, units inside the values."""

    format: Annotated[Literal[1], BeforeValidator(_no_truth)] = Field(description="version of this file form: 1")
    name: Name = Field(description="name of the colony")
    species: str = Field(description="species card whose numbers hold")
    start: Day = Field(description="first day of the record")
    end: Annotated[date | None, READ_DAY] = Field(
        None, description="last day of the record; default: the last day with anything in it"
    )
    leaves: Literal["free", "recorded"] = Field(
        "free", description="free: leaves always lie there; recorded: every leaf given is in the record; default: free"
    )
    climate: Annotated[str, Field(max_length=500), AfterValidator(one_line)] = Field(
        "", description="logger file of the garden's air"
    )
    visits: Annotated[str, Field(max_length=1_000_000), AfterValidator(_table_or_path)] = Field(
        "", description="CSV file of visits, or its very text"
    )
    note: Note = Field("", description="anything worth telling")
    queen: QueenForm = Field(QueenForm.model_validate({}), description="the queen")
    arrival: ArrivalForm = Field(ArrivalForm.model_validate({}), description="what was there on the first day")
    housing: HousingForm = Field(HousingForm.model_validate({}), description="the chamber that the garden grows in")
    bell: list[BellForm] = Field([], description="bells and chambers, each from its day on")
    visit: list[VisitForm] = Field([], description="what was seen, given and taken away")
    event: list[EventForm] = Field([], description="what was done to the colony or befell it")


TABLES: dict[str, type[BaseModel]] = {
    "queen": QueenForm,
    "arrival": ArrivalForm,
    "housing": HousingForm,
    "bell": BellForm,
    "visit": VisitForm,
    "event": EventForm,
}
"""Form of each table, by its name in the file."""


def keys_at(path: Steps) -> list[str]:
    """Keys that the table at a path of the file may have."""
    return keys_of(TABLES[str(path[0])] if path else ColonyForm)
