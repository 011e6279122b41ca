"""Make the small weather years of the example workshop from the typical years that pvlib ships.

    python studies/make_demo_weather.py

Needs pvlib. What it leaves out is everything but date, hour, dry bulb, dew point and pressure. The result is the same
byte for byte each time.
"""

from __future__ import annotations

import csv
import gzip
from pathlib import Path

import pvlib

FOLDER = Path(__file__).parents[1] / "examples/workshop/rooms/weather"
FILES = {"greensboro.csv.gz": "723170TYA.CSV", "sand-point.csv.gz": "703165TY.csv"}
PLACES = {"723170": "Greensboro, North Carolina", "703165": "Sand Point, Alaska"}
COLUMNS = ("Dry-bulb (C)", "Dew-point (C)", "Pressure (mbar)")


def compact(source: Path) -> str:
    """Text of the compact form of a TMY3 file."""
    with source.open(newline="") as lines:
        rows = csv.reader(lines)
        station, header = next(rows), next(rows)
        place = [header.index(name) for name in COLUMNS]
        made = [
            f"# station: {PLACES[station[0]]} (station {station[0]})",
            f"# altitude_m: {station[6]}",
            f"# from: NREL TMY3, by way of pvlib's data folder, {source.name}",
            "# licence: public domain (work of the United States government)",
            "# hours end at the hour given, local standard time; each month is of another year",
            "month,day,hour,outdoor_temperature_degC,outdoor_dew_point_degC,outdoor_pressure_hPa",
        ]
        for row in rows:
            month, day, _ = row[0].split("/")
            made.append(",".join((f"{int(month)},{int(day)},{int(row[1][:2])}", *(row[c] for c in place))))
    return "\n".join(made) + "\n"


def main() -> None:
    """Write both files."""
    data = Path(pvlib.__file__).parent / "data"
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name, source in FILES.items():
        packed = gzip.compress(compact(data / source).encode(), compresslevel=9, mtime=0)
        (FOLDER / name).write_bytes(packed)
        print(name, len(packed), "bytes")


if __name__ == "__main__":
    main()
