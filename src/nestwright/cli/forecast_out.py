"""A forecast as files: a table day by day, JSON, pictures. Names are checked before the work, files written whole."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright.cli.pictures import write_picture
from nestwright.errors import InputError
from nestwright.files import check_place, replacing, write_whole

if TYPE_CHECKING:
    from nestwright.colony.results import Forecast
    from nestwright.errands.forecast import Told

__all__ = ["check_folder", "check_out_name", "columns", "draw_all", "draw_growth", "write_out"]

SUFFIXES = (".csv", ".parquet", ".json")
UNITS = {"mL": "_mL", "1": "", "g/day": "_g_per_day", "cm2/day": "_cm2_per_day", "mol/s": "_mol_per_s"}
DIGITS = 4
"""Significant digits kept in a table: more than any figure is good for."""


def check_out_name(path: str | Path) -> Path:
    """The path, if its name ends in .csv, .parquet or .json and a file can be written there; InputError otherwise."""
    if Path(path).suffix.lower() not in SUFFIXES:
        raise InputError(
            "a forecast can be written in three formats", field="--out", found=str(path), allowed=", ".join(SUFFIXES)
        )
    return check_place(path)


def check_folder(path: str | Path) -> Path:
    """The path of a folder that is there or can be made, and can be written into; InputError otherwise."""
    folder = Path(path)
    if folder.exists() and not folder.is_dir():
        raise InputError("is a file, not a folder", file=str(folder), field="--pictures")
    # a folder that is yet to be made takes files if the one around it does
    check_place(folder / "growth.svg" if folder.is_dir() else folder.with_name(f"{folder.name}.svg"))
    return folder


def columns(forecast: Forecast) -> dict[str, list[Any]]:
    """Column name -> values, a row for each day to come: `day` of the record, `date`, then low, middle and high of
    each quantity, with its unit in the name."""
    days = forecast.bands["garden"].day
    made: dict[str, list[Any]] = {
        "day": [int(d) for d in days],
        "date": [(forecast.fit.start + timedelta(days=int(d))).isoformat() for d in days],
    }
    for name, band in forecast.bands.items():
        for end in ("low", "middle", "high"):
            values = getattr(band, end)
            made[f"{name}{UNITS.get(band.unit, '')}.{end}"] = [float(f"{float(v):.{DIGITS}g}") for v in values]
    return made


def write_out(told: Told, path: str | Path) -> Path:
    """Write a forecast to `path`, whole or not at all."""
    target = check_out_name(path)
    suffix = target.suffix.lower()
    if suffix == ".json":
        from nestwright.cli.output import as_json

        write_whole(target, json.dumps(as_json(told.to_dict()), indent=2, ensure_ascii=False) + "\n")
        return target
    import polars

    frame = polars.DataFrame(columns(told.forecast))
    with replacing(target) as scratch:
        if suffix == ".csv":
            frame.write_csv(scratch)
        else:
            frame.write_parquet(scratch)
    return target


def draw_growth(forecast: Forecast, path: str | Path) -> Path:
    """Draw garden and workers to `path`."""
    from nestwright.charts.growth import growth_chart

    return write_picture(growth_chart(forecast), path)


def draw_all(forecast: Forecast, folder: str | Path) -> list[Path]:
    """Draw every picture of a forecast into a folder; all are drawn before the first is written."""
    from nestwright.charts.brood import brood_chart
    from nestwright.charts.dates import dates_chart
    from nestwright.charts.growth import growth_chart
    from nestwright.charts.leaves import demand_chart
    from nestwright.charts.save import picture_bytes

    charts = {"growth": growth_chart, "brood": brood_chart, "dates": dates_chart, "leaves": demand_chart}
    drawn = {name: picture_bytes(chart(forecast), ".svg") for name, chart in charts.items()}
    target = check_folder(folder)
    target.mkdir(exist_ok=True)
    for name, content in drawn.items():
        write_whole(target / f"{name}.svg", content)
    return [target / f"{name}.svg" for name in drawn]
