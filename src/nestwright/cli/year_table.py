"""The run of a year as a table: one row an instant, one column a quantity, for CSV and Parquet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright.errors import InputError
from nestwright.files import replacing

if TYPE_CHECKING:
    from nestwright.climate.results import YearProof

__all__ = ["check_table_name", "columns", "write_table"]

SUFFIXES = (".csv", ".parquet")
# quantity of a series -> name of its column, factor, offset, decimals kept
SHOWN = {
    "temperature": ("temperature_degC", 1.0, -273.15, 2),
    "relative_humidity": ("relative_humidity_pct", 100.0, 0.0, 2),
    "co2": ("co2_pct", 100.0, 0.0, 3),
    "o2": ("o2_pct", 100.0, 0.0, 3),
}


def check_table_name(path: str | Path) -> Path:
    """The path, if its name ends in .csv or .parquet; InputError otherwise (asked before a long run, not after)."""
    if Path(path).suffix.lower() not in SUFFIXES:
        raise InputError(
            "the run can be written in two formats", field="--out", found=str(path), allowed=" or ".join(SUFFIXES)
        )
    return Path(path)


def columns(result: YearProof) -> dict[str, list[Any]]:
    """Column name -> values: `hour`, `time` where the room's record has dates, then `<zone>.<quantity>` in the units
    of its name; water bodies in g."""
    from datetime import datetime, timedelta

    import numpy as np

    made: dict[str, list[Any]] = {"hour": np.round(result.time / 3600, 4).tolist()}
    if result.start:
        begin, first = datetime.fromisoformat(result.start), float(result.time[0])
        made["time"] = [(begin + timedelta(seconds=float(t) - first)).isoformat() for t in result.time]
    for zone, quantities in result.series.items():
        for quantity, values in quantities.items():
            if zone == "water":
                made[f"water.{quantity}_g"] = np.round(values * 1000, 2).tolist()
            elif quantity in SHOWN:
                name, factor, offset, decimals = SHOWN[quantity]
                made[f"{zone}.{name}"] = np.round(values * factor + offset, decimals).tolist()
    return made


def write_table(result: YearProof, path: str | Path) -> Path:
    """Write the run to `path`, whole or not at all."""
    import polars

    target = check_table_name(path)
    frame = polars.DataFrame(columns(result))
    with replacing(target) as scratch:
        if target.suffix.lower() == ".csv":
            frame.write_csv(scratch)
        else:
            frame.write_parquet(scratch)
    return target
