"""The form of the parcel file: which tables and keys it has, of which kind, with which defaults."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, StrictBool, WithJsonSchema

from nestwright.habitat.form import LayerText, Quantity
from nestwright.letters import one_line
from nestwright.units import UnitProblem, shown

__all__ = ["TABLES", "ParcelForm"]

Length = Annotated[float, Quantity("length")]
Layers = Annotated[list[Annotated[tuple[float, str], LayerText()]], Field(min_length=1, max_length=8)]
Number = Annotated[float, Field(strict=True, ge=0, le=1e6)]
Text = Annotated[str, Field(strict=True, min_length=1, max_length=200), AfterValidator(one_line)]


def _moment(value: Any) -> datetime:
    if isinstance(value, datetime) and value.tzinfo is None:
        if not 2000 <= value.year <= 2100:
            raise UnitProblem("is no day of this time", shown(value), "a year from 2000 to 2100")
        return value
    raise UnitProblem("is no day with an hour", shown(value), "a day with its hour, as 2027-01-13T16:00:00, no zone")


Moment = Annotated[
    datetime,
    BeforeValidator(_moment),
    WithJsonSchema({"type": "string", "pattern": r"^(20\d\d|2100)-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d+)?)?$"}),
]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid")


class HolesForm(_Table):
    count: Annotated[int, Field(strict=True, ge=1, le=10_000)]
    width: Length


class BoxForm(_Table):
    width: Length
    depth: Length
    height: Length
    layers: Layers
    seam_gap: Annotated[float, Quantity("gap")] = 0.0
    holes: HolesForm | None = None


class FillerForm(_Table):
    material: Text
    share: Annotated[float, Quantity("share")]


class CupForm(_Table):
    volume: Annotated[float, Quantity("volume")]
    wall: Annotated[tuple[float, str], LayerText()] | None = None
    holes: HolesForm | None = None
    garden: Annotated[float, Quantity("volume")]
    workers: Number
    cotton: Annotated[float, Quantity("water")] = 0.0
    position: Annotated[float, Field(strict=True, ge=0, le=1)] = 0.0


class PackForm(_Table):
    kind: Literal["heat", "cold"]
    place: Literal["side", "top", "wrapped"]
    number: Annotated[int, Field(strict=True, ge=1, le=20)] = 1
    curve: Text | None = None
    iron: Annotated[float | None, Quantity("mass")] = None
    duration: Annotated[float | None, Quantity("interval")] = None
    start: Annotated[float, Quantity("time")] = 1200.0
    bag: Literal["open", "sealed"] = "open"
    gel: Annotated[float | None, Quantity("mass")] = None
    melts_at: Annotated[float, Quantity("temperature")] = 273.15
    latent: Annotated[float | None, Field(strict=True, gt=0, le=500)] = None
    starts_at: Annotated[float | None, Quantity("temperature")] = None


class LegForm(_Table):
    name: Text
    hours: Annotated[float, Field(strict=True, gt=0, le=480)]
    outside: Text
    waits: StrictBool = False


class ParcelForm(_Table):
    name: Text
    species: Text
    dispatch: Moment
    promised: Moment | None = None
    packed_at: Annotated[float | None, Quantity("temperature")] = None
    altitude: Annotated[float, Quantity("altitude")] = 0.0
    box: BoxForm
    filler: FillerForm | None = None
    cup: CupForm
    pack: Annotated[list[PackForm], Field(max_length=4)] = Field(default_factory=list)
    leg: Annotated[list[LegForm], Field(max_length=40)] = Field(default_factory=list)


TABLES: dict[tuple[str, ...], type[BaseModel]] = {
    (): ParcelForm,
    ("box",): BoxForm,
    ("box", "holes"): HolesForm,
    ("filler",): FillerForm,
    ("cup",): CupForm,
    ("cup", "holes"): HolesForm,
    ("pack",): PackForm,
    ("leg",): LegForm,
}
