"""The form of the habitat file: which tables and keys it has, of which kind, with which defaults.

Each value is turned to SI as it is read. What the keys mean together (chambers that exist, sizes that fit) is not
judged here but in `build` and `check`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, StrictBool
from pydantic_core import core_schema

from nestwright.habitat.model import Role
from nestwright.letters import one_line, several_lines
from nestwright.units import (
    UnitProblem,
    parse_band,
    parse_layer,
    parse_quantity,
    quantity_pattern,
)

__all__ = ["ROOM_NAMES", "TABLES", "HabitatForm"]

ROOM_NAMES = ("room", "bench", "floor")
"""Words that a face may touch besides a chamber; no chamber may bear them."""

_NAME = re.compile(r"[A-Za-z][A-Za-z0-9 _-]{0,59}")
_MAX_COUNT = 1_000_000


class _Text:
    """Base of the annotations that read one text; subclasses give `read` and `schema`."""

    def read(self, value: Any) -> Any:
        raise NotImplementedError

    def schema(self) -> dict[str, Any]:
        raise NotImplementedError

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return self.schema()


@dataclass(frozen=True)
class Quantity(_Text):
    """A number with its unit, of one of `units.KINDS`."""

    kind: str

    def read(self, value: Any) -> float:
        return parse_quantity(value, self.kind)

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "pattern": f"^{quantity_pattern(self.kind)}$"}


@dataclass(frozen=True)
class LayerText(_Text):
    """A wall layer: thickness and material."""

    def read(self, value: Any) -> tuple[float, str]:
        return parse_layer(value)

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "pattern": f"^{quantity_pattern('length')}\\s+(?:of\\s+)?\\S.*$"}


@dataclass(frozen=True)
class Band(_Text):
    """A limit with one or two ends."""

    kind: str

    def read(self, value: Any) -> tuple[float | None, float | None]:
        return parse_band(value, self.kind)

    def schema(self) -> dict[str, Any]:
        one = quantity_pattern(self.kind)
        return {"type": "string", "pattern": f"^\\s*(?:at (?:most|least) {one}|{one} to {one})$"}


@dataclass(frozen=True)
class Refill(_Text):
    """When a water body is filled up."""

    def read(self, value: Any) -> str | float:
        if value in ("when empty", "never"):
            return str(value)
        try:
            return parse_quantity(value, "interval")
        except UnitProblem as problem:
            allowed = f"'when empty', 'never' or an interval: {problem.allowed}"
            raise UnitProblem(problem.message, problem.found, allowed, problem.nearest) from None

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "pattern": f"^(?:when empty|never|{quantity_pattern('interval')})$"}


@dataclass(frozen=True)
class Name(_Text):
    """A name that other tables can point at."""

    def read(self, value: Any) -> str:
        if isinstance(value, str) and _NAME.fullmatch(value) and value == value.strip():
            return value
        allowed = "letters, digits, blank, '-' and '_', beginning with a letter, at most 60"
        raise UnitProblem("is not a usable name", repr(value)[:60], allowed)

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "pattern": f"^{_NAME.pattern}$"}


Length = Annotated[float, Quantity("length")]
MaybeLength = Annotated[float | None, Quantity("length")]
Gap = Annotated[float, Quantity("gap")]
MaybeHeight = Annotated[float | None, Quantity("height")]
Share = Annotated[float, Quantity("share")]
Position = Annotated[float, Quantity("position")]
Layers = Annotated[list[Annotated[tuple[float, str], LayerText()]], Field(min_length=1, max_length=12)]
FaceName = Literal["side", "top", "base"]
Named = Annotated[str, Name()]
Count = Annotated[int, Field(strict=True, ge=1, le=_MAX_COUNT)]


def _when(key: str, needs: dict[str, list[str]]) -> dict[str, Any]:
    """JSON Schema: for each value of `key`, the keys that it needs."""
    rules = [
        {"if": {"properties": {key: {"const": value}}, "required": [key]}, "then": {"required": keys}}
        for value, keys in needs.items()
    ]
    return {"allOf": rules}


SHAPE_KEYS = {
    "cylinder": ["diameter", "height"],
    "box": ["width", "depth", "height"],
    "cone": ["bottom_diameter", "top_diameter", "height"],
}
PATTERN_KEYS = {
    "hole": ["diameter", "count"],
    "slot": ["width", "length", "count"],
    "mesh": ["aperture", "wire"],
}
_CONTROL_KEYS = {"thermostat": ["set", "band", "sensor"], "proportional": ["set", "band", "sensor"]}


def _no_truth(value: Any) -> Any:
    """true is not the number 1, though Python takes one for the other."""
    return repr(value) if isinstance(value, bool | float) else value


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class _Shaped(_Table):
    shape: Literal["cylinder", "box", "cone"] = Field(description="inner form")
    diameter: MaybeLength = Field(None, description="inner diameter of a cylinder")
    width: MaybeLength = Field(None, description="inner width of a box, along x")
    depth: MaybeLength = Field(None, description="inner depth of a box, along y")
    bottom_diameter: MaybeLength = Field(None, description="inner diameter of a cone at its base")
    top_diameter: MaybeLength = Field(None, description="inner diameter of a cone at its top")
    height: Length = Field(description="inner height")


class _Pierced(_Table):
    pattern: Literal["hole", "slot", "mesh"] = Field(description="what the air passes")
    diameter: MaybeLength = Field(None, description="of one hole, or of the meshed port")
    width: MaybeLength = Field(None, description="narrow side of one slot")
    length: MaybeLength = Field(None, description="long side of one slot")
    count: Annotated[int | None, Field(strict=True, ge=1, le=_MAX_COUNT)] = Field(
        None, description="number of holes or slots; a mesh is always one"
    )
    aperture: MaybeLength = Field(None, description="clear width of one opening of the mesh")
    wire: MaybeLength = Field(None, description="wire diameter of the mesh")
    thickness: MaybeLength = Field(None, description="length of the way through")


class FaceForm(_Table):
    layers: Layers | None = Field(None, description="from the inside to the outside; default: the chamber's `layers`")
    touches: str | None = Field(None, description='"room", "bench", "floor" or a chamber; default: room, base: bench')


class ChamberForm(_Shaped):
    model_config = ConfigDict(json_schema_extra=_when("shape", SHAPE_KEYS))
    name: Named = Field(description="name of the chamber")
    role: Role = Field(description="what it is for")
    place: tuple[Position, Position, Position] = Field(
        description="centre of the inner floor: x, y and height above the bench"
    )
    layers: Layers | None = Field(None, description="wall layers of every face that has none of its own")
    side: FaceForm | None = Field(None, description="the side walls")
    top: FaceForm | None = Field(None, description="the lid or ceiling")
    base: FaceForm | None = Field(None, description="the floor")
    lid_gap: Gap = Field(0.0, description="width of the gap along the lid's rim; 0 mm = tight (default)")
    lid_depth: Length = Field(0.005, description="length of the way through that gap; default 5 mm")


class BellForm(_Shaped):
    model_config = ConfigDict(json_schema_extra=_when("shape", SHAPE_KEYS))
    chamber: str = Field(description="chamber in which it stands")
    layers: Layers = Field(description="its wall, from the inside to the outside")
    rim_gap: Gap = Field(description="height of the gap under its rim")


class GridForm(_Pierced):
    model_config = ConfigDict(json_schema_extra=_when("pattern", PATTERN_KEYS))
    above: str = Field(description="chamber above it")
    below: str = Field(description="chamber below it, often the sump")
    material: str = Field(description="what the grid is made of")


class WaterForm(_Table):
    chamber: str = Field(description="chamber in which it lies")
    kind: Literal["block", "pool", "reservoir"] = Field(description="wet porous block, open pool, or closed reservoir")
    name: Named | None = Field(None, description="default: the kind")
    free_surface: Annotated[float | None, Quantity("area")] = Field(
        None, description="area that evaporates; default for a pool: the chamber's floor"
    )
    wick_limit: Annotated[float | None, Quantity("water rate")] = Field(
        None, description="largest supply through the wick; default: none, an open surface"
    )
    store: Annotated[float, Quantity("water")] = Field(description="water held when full; 1 mL counts as 1 g")
    dry_mass: Annotated[float, Quantity("mass")] = Field(0.0, description="mass of the body when dry; default 0 g")
    refill: Annotated[Literal["when empty", "never"] | float, Refill()] = Field(
        "when empty", description='"when empty" (default), "never" or an interval'
    )


class GardenForm(_Table):
    chamber: str = Field(description="chamber in which it grows; under the bell where there is one")
    volume: Annotated[float, Quantity("volume")] = Field(description="at the start")
    workers: Annotated[int, Field(strict=True, ge=0, le=10 * _MAX_COUNT)] = Field(
        0, description="ants living with it, at the start; default 0"
    )


class VentForm(_Pierced):
    model_config = ConfigDict(
        json_schema_extra=_when("pattern", {**PATTERN_KEYS, "mesh": ["diameter", "aperture", "wire"]})
    )
    name: Named = Field(description="name of the vent")
    chamber: str = Field(description="chamber that it opens")
    face: FaceName = Field("side", description="default: side")
    height: MaybeHeight = Field(
        None, description="middle of the vent above the inner floor, for the side; default: half way up"
    )
    to: str = Field("room", description='"room" (default) or the chamber that the face touches')


class PlugForm(_Table):
    closes: str = Field(description="vent or passage that it closes")
    share: Share = Field(1.0, description="share that it closes; default 100 %")


class PassageForm(_Table):
    name: Named = Field(description="name of the passage")
    from_: str = Field(alias="from", description="chamber at its first end")
    to: str = Field(description="chamber at its second end")
    bore: Length = Field(description="inner diameter")
    length: Length = Field(description="from inner wall to inner wall")
    from_height: MaybeHeight = Field(
        None, description="middle of the first end above its floor; default: half the bore"
    )
    to_height: MaybeHeight = Field(None, description="middle of the second end above its floor; default: half the bore")
    occupied: Share = Field(0.0, description="share of the bore filled with ants and leaf; default 0 %")


class InsulationForm(_Table):
    chamber: str = Field(description="chamber that it wraps")
    faces: Annotated[list[FaceName], Field(min_length=1, max_length=3)] = Field(
        ["side", "top"], description='default: ["side", "top"]'
    )
    layer: Annotated[tuple[float, str], LayerText()] = Field(description="added outside the walls of these faces")


class SensorForm(_Table):
    name: Named = Field(description="name of the sensor")
    chamber: str = Field(description="chamber whose air it reads")
    lag: Annotated[float, Quantity("time")] = Field(60.0, description="time constant; default 60 s")
    under_bell: StrictBool = Field(False, description="true when it sits under the bell; default false")


class HeaterForm(_Table):
    model_config = ConfigDict(json_schema_extra=_when("control", _CONTROL_KEYS))
    name: Named = Field(description="name of the heater")
    power: Annotated[float, Quantity("power")] = Field(description="at full load")
    chamber: str = Field(description="chamber that it heats")
    where: Literal["air", "side", "top", "base", "water"] = Field(
        "base", description="what it heats; a face is heated on its outer side; default: base"
    )
    control: Literal["constant", "thermostat", "proportional"] = Field("constant", description="default: constant")
    set: Annotated[float | None, Quantity("temperature")] = Field(None, description="wanted temperature at the sensor")
    band: Annotated[float | None, Quantity("difference")] = Field(
        None, description="full width between off and on, or of the proportional range"
    )
    sensor: str | None = Field(None, description="sensor that steers it")


class MakeForm(_Table):
    part: Annotated[str, AfterValidator(one_line)] = Field(
        description="name of a chamber, vent, passage, water or sensor; or bell, grid, lid or base and the chamber's"
    )
    way: Literal["printed", "resin", "laser", "milled", "turned", "cast", "cut", "bought"] | None = Field(
        None, description="way of making; default: the usual one for its form and material"
    )
    material: str | None = Field(None, description="default: that of its wall")
    clearance: Annotated[float | None, Quantity("gap")] = Field(
        None, description="clear width to what it meets; default: the usual one"
    )
    note: Annotated[str, AfterValidator(one_line)] = Field("", description="for whoever makes it")


class LimitForm(_Table):
    temperature: Annotated[tuple[float | None, float | None] | None, Band("temperature")] = Field(
        None, description="of the air"
    )
    relative_humidity: Annotated[tuple[float | None, float | None] | None, Band("share")] = Field(
        None, description="of the air"
    )
    co2: Annotated[tuple[float | None, float | None] | None, Band("share")] = Field(
        None, description="share of the air"
    )
    o2: Annotated[tuple[float | None, float | None] | None, Band("share")] = Field(None, description="share of the air")


class HabitatForm(_Table):
    """A habitat for fungus-growing ants: one design, units inside the values."""

    format: Annotated[Literal[1], BeforeValidator(_no_truth)] = Field(description="version of this file form: 1")
    name: Annotated[str, Field(min_length=1, max_length=200), AfterValidator(one_line)] = Field(
        description="name of the design"
    )
    revision: Annotated[str, Field(min_length=1, max_length=60), AfterValidator(one_line)] = Field(
        "1", description='default: "1"'
    )
    species: str = Field(description="species card whose limits hold")
    altitude: Annotated[float, Quantity("altitude")] = Field(0.0, description="of the place; default 0 m")
    note: Annotated[str, AfterValidator(several_lines)] = Field("", description="anything worth telling")
    chamber: Annotated[list[ChamberForm], Field(min_length=1, max_length=200)] = Field(description="closed volumes")
    bell: list[BellForm] = Field([], description="covers over a garden")
    grid: list[GridForm] = Field([], description="perforated floors")
    water: list[WaterForm] = Field([], description="wet bodies")
    garden: list[GardenForm] = Field([], description="fungus gardens")
    vent: list[VentForm] = Field([], description="openings to the room or to a touching chamber")
    plug: list[PlugForm] = Field([], description="what closes a vent or passage")
    passage: list[PassageForm] = Field([], description="ways for the ants between two chambers")
    insulation: list[InsulationForm] = Field([], description="outer wrapping")
    sensor: list[SensorForm] = Field([], description="places where the air is read")
    heater: list[HeaterForm] = Field([], description="sources of heat")
    limits: dict[Role, LimitForm] = Field({}, description="limits of one's own, by role of chamber")
    make: list[MakeForm] = Field([], description="parts that are made otherwise than usual")


TABLES: dict[str, type[BaseModel]] = {
    "chamber": ChamberForm,
    "bell": BellForm,
    "grid": GridForm,
    "water": WaterForm,
    "garden": GardenForm,
    "vent": VentForm,
    "plug": PlugForm,
    "passage": PassageForm,
    "insulation": InsulationForm,
    "sensor": SensorForm,
    "heater": HeaterForm,
    "make": MakeForm,
}
"""Form of each array of tables, by the name that stands in double brackets."""
