"""Numbers with their sources: constants, materials, species cards, and what an assembly needs."""

from __future__ import annotations

import csv
import functools
import tomllib
from dataclasses import dataclass
from importlib import resources
from typing import Any

from nestwright.errors import InputError, nearest_name


@dataclass(frozen=True)
class Value:
    """A number with its range, unit, source and mark (published, secondary, derived, judgement)."""

    value: float
    low: float
    high: float
    unit: str
    source: str
    mark: str


@dataclass(frozen=True)
class Material:
    """conductivity W/(m K), density kg/m3, specific_heat J/(kg K), mu (vapour resistance factor), emissivity."""

    conductivity: float
    density: float
    specific_heat: float
    mu: float
    emissivity: float
    source: str
    mark: str


@dataclass(frozen=True)
class CardLimit:
    """A limit of the card for chambers of a role; `low`/`high` in SI or None."""

    role: str
    quantity: str
    low: float | None
    high: float | None
    source: str
    mark: str


@dataclass(frozen=True)
class SpeciesCard:
    name: str
    limits: tuple[CardLimit, ...]
    garden: dict[str, Value]
    raw: dict[str, Any]
    growth: dict[str, Value]
    """What colony and garden grow by; days, g dry matter, mL, degC. low and high: 5 % and 95 % points of the prior."""


def _read(name: str) -> dict[str, Any]:
    return tomllib.loads((resources.files(__name__) / name).read_text("utf-8"))


def _value(entry: dict[str, Any]) -> Value:
    v = float(entry["value"])
    low, high = float(entry.get("low", v)), float(entry.get("high", v))
    return Value(v, low, high, entry["unit"], entry["source"], entry["mark"])


@functools.cache
def read_values(name: str) -> dict[str, Value]:
    """The values of a table of this folder, such as "colony.toml", by name, in a table of tables "part.name"; `low` and
    `high` are equal to `value` where no range is given."""
    found: dict[str, Value] = {}
    for key, entry in _read(name).items():
        if "value" in entry:
            found[key] = _value(entry)
        else:
            found |= {f"{key}.{inner}": _value(one) for inner, one in entry.items()}
    return found


def constants() -> dict[str, Value]:
    """Physical constants and properties by name, SI."""
    return read_values("constants.toml")


def assembly_values() -> dict[str, Value]:
    """Values that turn a design into a network, by name, SI."""
    return read_values("assembly.toml")


def exchange_values() -> dict[str, Value]:
    """Values of the relations in `nestwright.physics`, by name, SI."""
    return read_values("exchange.toml")


def colony_values() -> dict[str, Value]:
    """Values of the growth model that hold for every species, by name; days, g dry matter, mL."""
    return read_values("colony.toml")


def diagnosis_values() -> dict[str, Value]:
    """What a diagnosis takes as given, by name."""
    return read_values("diagnosis.toml")


def plan_values() -> dict[str, Value]:
    """What the plan of the next bells and chambers is weighed by, by name."""
    return read_values("plan.toml")


@functools.cache
def limit_tolerances() -> dict[str, float]:
    """What one step of margin means for each quantity, SI."""
    return {k: float(v["value"]) for k, v in _read("limits.toml").items()}


@functools.cache
def load_materials() -> dict[str, Material]:
    """Materials by name, SI."""
    return {name: Material(**entry) for name, entry in _read("materials.toml").items()}


@functools.cache
def parcel_materials() -> dict[str, Material]:
    """Materials of boxes, fillers and cups of parcels, by name, SI."""
    return {name: Material(**entry) for name, entry in _read("parcel_materials.toml").items()}


def parcel_profiles() -> dict[str, tuple[list[float], list[float], float]]:
    """Outside air on the way, by name: hours of the day, degC, and relative humidity (0 to 1) at their mean."""
    rows = _read("parcel_profiles.toml")
    return {k: (row["hours"], row["temperature"], row["humidity"] / 100) for k, row in rows.items()}


@dataclass(frozen=True)
class Mesh:
    """Woven mesh of a standard size: aperture and wire, with the wire's permitted range, m."""

    aperture: float
    wire: float
    wire_min: float
    wire_max: float
    source: str


@dataclass(frozen=True)
class Salt:
    """Relative humidity (0 to 1) over a saturated solution of a salt at a temperature in K."""

    salt: str
    temperature: float
    relative_humidity: float
    source: str


def _rows(name: str) -> list[dict[str, str]]:
    text = (resources.files(__name__) / name).read_text("utf-8")
    return list(csv.DictReader(text.splitlines()))


@functools.cache
def load_meshes() -> tuple[Mesh, ...]:
    """Standard woven meshes, finest first, SI."""
    return tuple(
        Mesh(
            aperture=float(row["aperture_mm"]) / 1000,
            wire=float(row["wire_mm"]) / 1000,
            wire_min=float(row["wire_min_mm"]) / 1000,
            wire_max=float(row["wire_max_mm"]) / 1000,
            source=row["source"],
        )
        for row in _rows("meshes.csv")
    )


@functools.cache
def load_salts() -> tuple[Salt, ...]:
    """Fixed points of humidity, SI."""
    return tuple(
        Salt(
            row["salt"],
            float(row["temperature_degC"]) + 273.15,
            float(row["relative_humidity_pct"]) / 100,
            row["source"],
        )
        for row in _rows("salts.csv")
    )


@functools.cache
def species_names() -> tuple[str, ...]:
    """Names of the shipped cards, sorted."""
    files = [f.name for f in (resources.files(__name__) / "species").iterdir() if f.name.endswith(".toml")]
    return tuple(sorted(str(_read(f"species/{name}")["name"]) for name in files))


@functools.cache
def load_species(name: str) -> SpeciesCard:
    """The card of one species. Raises InputError, with the nearest name, for an unknown one."""
    if name not in species_names():
        raise InputError(
            "no card for this species",
            field="species",
            found=repr(name),
            allowed=", ".join(species_names()),
            nearest=nearest_name(name, species_names()),
        )
    raw = _read(f"species/{name.lower().replace(' ', '_')}.toml")

    def si(entry: dict[str, Any], end: str) -> float | None:
        x = entry.get(end)
        return None if x is None else float(x) + (273.15 if entry["unit"] == "degC" else 0.0)

    limits = tuple(
        CardLimit(e["role"], e["quantity"], si(e, "low"), si(e, "high"), e["source"], e["mark"]) for e in raw["limit"]
    )
    garden, growth = ({k: _value(v) for k, v in raw[part].items()} for part in ("garden", "growth"))
    return SpeciesCard(name, limits, garden, raw, growth)
