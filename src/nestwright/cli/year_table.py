"""The run of a year as a table: one row an instant, one column a quantity, for CSV and Parquet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from nestwright.climate.run_columns import columns
from nestwright.errors import InputError
from nestwright.files import check_place, replacing

if TYPE_CHECKING:
    from nestwright.climate.results import YearProof

__all__ = ["check_table_name", "write_table"]

SUFFIXES = (".csv", ".parquet")


def check_table_name(path: str | Path) -> Path:
    """The path, if its name ends in .csv or .parquet and a file can be written there; else InputError. Asked before a
    long run, not after."""
    if Path(path).suffix.lower() not in SUFFIXES:
        raise InputError(
            "the run can be written in two formats", field="--out", found=str(path), allowed=" or ".join(SUFFIXES)
        )
    return check_place(path)


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
