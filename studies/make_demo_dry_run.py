"""Makes the example dry run: a single pot with a leak in its sump, read by three loggers over a day. Invented.

python studies/make_demo_dry_run.py
"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import numpy as np
from made_dry_run import made_run

from nestwright.climate.dry_run_log import ROOM
from nestwright.files import write_whole
from nestwright.habitat.file import read_habitat

ROOT = Path(__file__).parents[1]
FOLDER = ROOT / "examples" / "workshop" / "dry-runs"
HABITAT = ROOT / "examples" / "workshop" / "habitats" / "single-pot.toml"
PLANTED = {"leak:sump": 2.5, "crown": 0.95, "pot grid": 1.05, "water:tile": 0.93}
"""A cable left out of the sump's wall: about 7.5 mm2. The rest is within its tolerance."""
RELEASES = (("pot", 6.0, 0.02), ("sump", 15.0, 0.02))
COLUMNS = {"temperature": ("temperature_degC", 2), "relative_humidity": ("humidity_pct", 1), "co2": ("co2_ppm", 0)}


def main() -> None:
    record, _ = made_run(read_habitat(HABITAT), PLANTED, ("pot", "sump"), seed=11, releases=RELEASES, room_columns=True)
    _write("single-pot-inside.csv", record, lambda zone: zone != ROOM, "logger in the pot and one in the sump")
    _write("single-pot-room.csv", record, lambda zone: zone == ROOM, "logger beside the pot")


def _write(name, record, wanted, what) -> None:
    keys = [key for key in record.channels if wanted(key[0])]
    lines = [
        f"# Invented readings of an empty single pot: {what}.",
        "# Made by studies/make_demo_dry_run.py from the model, with a leak planted in the sump, and loggers' errors.",
        "time," + ",".join(f"{zone}.{COLUMNS[quantity][0]}" for zone, quantity in keys),
    ]
    for k, t in enumerate(record.time.tolist()):
        cells = []
        for zone, quantity in keys:
            value = record.channels[(zone, quantity)][k]
            value = value - 273.15 if quantity == "temperature" else value * (100 if quantity != "co2" else 1e6)
            cells.append("" if np.isnan(value) else f"{value:.{COLUMNS[quantity][1]}f}")
        lines.append(f"{(record.start + timedelta(seconds=t)).isoformat()},{','.join(cells)}")
    FOLDER.mkdir(parents=True, exist_ok=True)
    write_whole(FOLDER / name, "\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
