"""The climate of a garden, day by day, from a logger's file, from the run of a proof, or from a steady proof."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from nestwright.errors import InputError
from nestwright.files import no_file

if TYPE_CHECKING:
    from datetime import date

    from nestwright.climate.logger import Reading
    from nestwright.colony.model import Climate, Colony
    from nestwright.workshop.garden_air import GardenAir

Array = NDArray[np.float64]
Limits = dict[str, tuple[float | None, float | None]]

__all__ = ["GardenClimate", "Water", "days_of", "read_garden_climate", "recorded_climate", "steady_climate"]

CELSIUS = 273.15
DAY = 86400.0
YEAR_DAYS = 360
"""A run at least this long is a year, and is laid on the calendar whatever year it was."""
KEYS = ("temperature", "hot", "cold", "dry", "wet", "co2")


@dataclass(frozen=True)
class Water:
    """Water that the habitat of a proof uses: g/day, and days until its first body is dry (None: never)."""

    habitat: str
    rate: float
    refill: float | None

    def to_dict(self) -> dict[str, Any]:
        return {"habitat": self.habitat, "water_g_per_day": self.rate, "refill_days": self.refill}


@dataclass(frozen=True)
class GardenClimate:
    """What a file says of the garden's climate.

    `record` belongs to the fit: the days 0 to `days` of the record; None when the file says nothing of them. `ahead`
    is for the days to come, from the record's last day on; None: as on the last days of the record.
    """

    source: str
    record: Climate | None
    ahead: Climate | None
    proof: bool
    water: Water | None = None
    notes: tuple[str, ...] = ()


def read_garden_climate(path: str | Path, colony: Colony, horizon: int, *, line: int = 0) -> GardenClimate:
    """Read the climate of a colony's garden.

    `path`: a logger's CSV, the table of `nestwright climate --year --out`, or the JSON of `nestwright climate --json`.
    Depths beyond the limits are those of the species card for garden chambers. Raises InputError for a file that is
    none of these, and for a logger without a reading in the record or the days to come.
    """
    file = Path(path)
    if not file.is_file():
        raise InputError(no_file(file), file=str(path), field="climate")
    limits = garden_limits(colony.species)
    suffix = file.suffix.lower()
    if suffix == ".json":
        return _from_proof(file, limits, colony.days, horizon)
    if suffix == ".parquet" or _is_run(file):
        return _from_run(file, limits, colony, horizon)
    if suffix in (".csv", ".txt", ".tsv"):
        return _from_logger(file, limits, colony, horizon)
    raise InputError(
        "is no climate of a garden",
        file=str(path),
        found=suffix or "a name without an ending",
        allowed="a logger's .csv, the .csv or .parquet of climate --year --out, the .json of climate --json",
    )


def garden_limits(species: str) -> Limits:
    """Quantity to (low, high), SI, of the card's limits for garden chambers."""
    from nestwright.data import load_species

    return {one.quantity: (one.low, one.high) for one in load_species(species).limits if one.role == "garden"}


def beyond(values: Array, band: tuple[float | None, float | None], *, above: bool) -> Array:
    """Depth of each value beyond one end of a band; 0 inside and where there is no end."""
    end = band[1] if above else band[0]
    if end is None:
        return np.zeros_like(values)
    return np.maximum(values - end if above else end - values, 0.0)


def days_of(
    when: Array, weight: Array, temperature: Array, humidity: Array, limits: Limits, days: int, co2: Array | None = None
) -> Climate:
    """Means of each day. `when` days from the record's first midnight, shape (n,); `weight` of each reading;
    temperature K; humidity, co2 0 to 1. NaN on the days 0 to `days` - 1 without a reading."""
    from nestwright.colony.model import Climate

    day = np.floor(when).astype(np.int64)
    inside = (day >= 0) & (day < days)
    none: tuple[float | None, float | None] = (None, None)
    warm, damp = limits.get("temperature", none), limits.get("relative_humidity", none)
    gas = np.zeros_like(temperature) if co2 is None else beyond(co2, limits.get("co2", none), above=True)
    quantities = {
        "temperature": temperature - CELSIUS,
        "hot": beyond(temperature, warm, above=True),
        "cold": beyond(temperature, warm, above=False),
        "dry": beyond(humidity, damp, above=False),
        "wet": np.zeros_like(temperature),
        "co2": gas,
    }
    total = np.bincount(day[inside], weight[inside], minlength=days)
    made = {}
    for name, values in quantities.items():
        with np.errstate(invalid="ignore", divide="ignore"):
            summed = np.bincount(day[inside], weight[inside] * values[inside], minlength=days)
            made[name] = np.where(total > 0, summed / total, np.nan)
    return Climate(**made)


def steady_climate(temperature: float, humidity: float, co2: float, drip: float, limits: Limits, days: int) -> Climate:
    """The same climate on every day. temperature K; humidity, co2 0 to 1; drip g/day."""
    whole = np.arange(days, dtype=float)
    made = days_of(
        whole, np.ones(days), np.full(days, temperature), np.full(days, humidity), limits, days, np.full(days, co2)
    )
    return replace(made, wet=np.full(days, drip))


def _from_proof(file: Path, limits: Limits, days: int, horizon: int) -> GardenClimate:
    def refuse(found: str) -> InputError:
        allowed = "the JSON of `nestwright climate HABITAT --room ROOM --json`"
        return InputError("is no proof of a habitat", file=str(file), found=found, allowed=allowed)

    try:
        proof = json.loads(file.read_text("utf-8"))
    except (ValueError, UnicodeDecodeError) as error:
        raise refuse(str(error)[:80]) from None
    chambers = proof.get("chambers") if isinstance(proof, dict) else None
    if not isinstance(chambers, list):
        raise refuse("no chambers in it")
    gardens = [c for c in chambers if isinstance(c, dict) and c.get("role") == "garden"]
    if not gardens:
        raise refuse("no garden chamber in it")
    here = gardens[0]

    def number(table: dict[str, Any], key: str) -> float:
        value = table.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise refuse(f"{key} = {value!r}")
        return float(value)

    air = (
        number(here, "temperature_degC") + CELSIUS,
        number(here, "relative_humidity_pct") / 100,
        number(here, "co2_pct") / 100,
        number(proof, "drip_on_garden_g_per_day"),
    )
    notes = []
    if len(gardens) > 1:
        notes.append(f"climate: {len(gardens)} gardens in the proof, taken as in {here.get('name')}")
    if "hours" in proof:
        notes.append("climate: the mean of a run; its table (climate --year --out) keeps the bad days")
    refill = proof.get("refill_days")
    name = str(proof.get("habitat", file.stem))
    water = Water(name, number(proof, "water_g_per_day"), None if refill is None else number(proof, "refill_days"))
    source = f"proof of {name} in {proof.get('room', {}).get('name', 'its room')}"
    record = steady_climate(*air, limits, days + 1)
    return GardenClimate(source, record, steady_climate(*air, limits, horizon), True, water, tuple(notes))


def _is_run(file: Path) -> bool:
    with file.open("r", encoding="utf-8-sig", errors="replace") as text:
        return text.readline(200).startswith("hour,")


def _from_run(file: Path, limits: Limits, colony: Colony, horizon: int) -> GardenClimate:
    import polars

    try:
        frame = polars.read_parquet(file) if file.suffix.lower() == ".parquet" else polars.read_csv(file)
    except (polars.exceptions.PolarsError, OSError) as error:
        raise InputError("cannot be read as a table", file=str(file), found=str(error).splitlines()[0][:80]) from None
    zone = _garden_zone(file, frame.columns)

    def column(name: str) -> Array:
        try:
            return frame[name].cast(polars.Float64).to_numpy()
        except (polars.exceptions.PolarsError, ValueError) as error:
            found = str(error).splitlines()[0][:80]
            raise InputError("has a column that cannot be read", file=str(file), field=name, found=found) from None

    hour = column("hour")
    temperature, humidity = (column(f"{zone}.{q}") for q in ("temperature_degC", "relative_humidity_pct"))
    good = np.isfinite(hour) & np.isfinite(temperature) & np.isfinite(humidity)
    if not good.any():
        raise InputError("has no readings", file=str(file), field=zone)
    gas = column(f"{zone}.co2_pct")[good] / 100 if f"{zone}.co2_pct" in frame.columns else None
    start = str(frame["time"][0]) if "time" in frame.columns else ""
    began, notes = _begin(start)
    at = hour[good] / 24 + (began - datetime.combine(began.date(), datetime.min.time())) / timedelta(days=1)
    length = int(np.floor(at.max())) + 1
    rest = (np.ones(int(good.sum())), temperature[good] + CELSIUS, humidity[good] / 100, limits, length, gas)
    run = days_of(at, *rest)
    # the table says nothing of drip: the run's own limits do
    notes.append("climate: no drip on the garden in the run's table; taken as none")
    first = began.date() if start else None
    return GardenClimate(
        f"run of a proof, {file.name}, {length} days",
        _on_calendar(run, first, colony.start, colony.days + 1),
        _on_calendar(run, first, colony.start + timedelta(days=colony.days), horizon),
        True,
        None,
        tuple(notes),
    )


def _begin(start: str) -> tuple[datetime, list[str]]:
    try:
        return datetime.fromisoformat(start).replace(tzinfo=None), []
    except ValueError:
        return datetime(2001, 1, 1), ["climate: the run's table has no dates; its first day is laid on the first day"]


def _garden_zone(file: Path, columns: list[str]) -> str:
    zones = [c.removesuffix(".temperature_degC") for c in columns if c.endswith(".temperature_degC")]
    zones = [z for z in zones if z != "room" and f"{z}.relative_humidity_pct" in columns]
    bells = [z for z in zones if z.endswith("/bell")]
    gardens = bells or [z for z in zones if "garden" in z.lower()] or zones
    if "hour" not in columns or not zones:
        allowed = "the table of `nestwright climate --year --out`"
        raise InputError("is no run of a proof", file=str(file), found=", ".join(columns)[:80], allowed=allowed)
    if len(gardens) > 1 and not bells:
        # the air of a garden is what its ants breathe into: roles are not in the table
        allowed = "one chamber under a bell or with garden in its name, or the JSON of the proof"
        raise InputError(
            "does not say which chamber is the garden's", file=str(file), found=", ".join(zones), allowed=allowed
        )
    return gardens[0]


def _on_calendar(run: Climate, first: date | None, begin: date, days: int) -> Climate:
    """The days from `begin` on: those of a year by day and month; those of a shorter run by their dates (NaN beyond
    it) where it reaches into these days, else over and over from its first."""
    from nestwright.colony.model import Climate

    length = len(run.temperature)
    wanted = np.arange(days)
    if first is not None and length >= YEAR_DAYS:
        wanted = (wanted + (begin - first).days) % (365 * max(1, length // 365))
        index, known = np.minimum(wanted, length - 1), np.ones(days, dtype=bool)
    else:
        dated = np.full(days, -1) if first is None else wanted + (begin - first).days
        known = (dated >= 0) & (dated < length)
        if not known.any():
            dated, known = wanted % length, np.ones(days, dtype=bool)
        index = np.clip(dated, 0, length - 1)
    return Climate(**{k: np.where(known, getattr(run, k)[index], np.nan) for k in KEYS})


def _from_logger(file: Path, limits: Limits, colony: Colony, horizon: int) -> GardenClimate:
    from nestwright.climate.logger import read_logger

    reading = read_logger(file)
    midnight = datetime.combine(colony.start, datetime.min.time())
    offset = (reading.start.replace(tzinfo=None) - midnight) / timedelta(days=1)
    air = (offset + reading.time / DAY, _weights(reading), reading.temperature, reading.relative_humidity)
    notes = ["climate: a logger's file; no CO2 and no drip in it, taken as inside the limits"]
    notes += [f"climate: {r}" for r in reading.remarks]
    if reading.bad:
        notes.append(
            f"climate: {reading.left_out} rows of the logger were not read, the first in line {reading.bad[0].line}"
        )
    made = _measured(f"logger {file.name}", air, None, limits, colony, horizon, tuple(notes))
    if made is None:
        last = midnight + timedelta(days=colony.days)
        found = f"{reading.start:%Y-%m-%d} to {reading.start + timedelta(seconds=float(reading.time[-1])):%Y-%m-%d}"
        allowed = f"readings between {midnight:%Y-%m-%d} and {last:%Y-%m-%d}"
        raise InputError("has no reading of the record's days", file=str(file), found=found, allowed=allowed)
    return made


def recorded_climate(air: GardenAir, colony: Colony, horizon: int) -> GardenClimate | None:
    """The climate of a colony's garden from the readings of the workshop's own loggers; None where none is of the
    record's days or those to come."""
    notes = ["climate: the record's loggers; no drip in them, taken as none"]
    if air.co2 is None or np.isnan(air.co2).any():
        never = "not" if air.co2 is None else "not always"
        notes.append(f"climate: CO2 {never} measured, taken as inside the limits where it was not")
    notes += [f"climate: {n}" for n in air.notes]
    source = f"{'logger' if len(air.loggers) == 1 else 'loggers'} {', '.join(air.loggers)} of the record"
    measured = (air.when, air.weight, air.temperature, air.humidity)
    return _measured(source, measured, air.co2_inside, garden_limits(colony.species), colony, horizon, tuple(notes))


def _measured(
    source: str,
    air: tuple[Array, Array, Array, Array],
    co2: Array | None,
    limits: Limits,
    colony: Colony,
    horizon: int,
    notes: tuple[str, ...],
) -> GardenClimate | None:
    """The climate of readings `air`: when, weight, temperature, humidity, as `days_of`. None where none counts."""
    from nestwright.colony.model import Climate

    days = colony.days + 1
    whole = days_of(*air, limits, days + max(horizon, 1), co2)
    record, after = (Climate(**{k: getattr(whole, k)[part] for k in KEYS}) for part in (slice(days), slice(days, None)))
    known = int(np.isfinite(record.temperature).sum())
    comes = bool(np.isfinite(after.temperature).any())
    if not known and not comes:
        return None
    told = f"{source}, {known} of {days} days of the record"
    ahead = _filled(whole, colony.days, horizon) if comes else None
    return GardenClimate(told, record if known else None, ahead, False, None, notes)


def _weights(reading: Reading) -> Array:
    """Time that each reading stands for, s: half the way to its neighbours, a gap no more than its bridge, and at
    either end as much outward as inward."""
    from nestwright.climate.room_values import room_values

    half = np.minimum(np.diff(reading.time), room_values()["bridge"].value) / 2
    return np.concatenate([[2 * half[0]], half[:-1] + half[1:], [2 * half[-1]]])


def _filled(whole: Climate, days: int, horizon: int) -> Climate:
    """The days to come where they were measured; the others as the mean of the last fourteen measured."""
    from nestwright.colony.model import Climate

    made = {}
    for k in KEYS:
        values = getattr(whole, k)
        measured = values[np.isfinite(values)][-14:]
        ahead = values[days : days + horizon]
        made[k] = np.where(np.isfinite(ahead), ahead, measured.mean())
    return Climate(**made)
