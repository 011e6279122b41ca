"""A workshop as large as a busy trade's, with invented data: for load tests of the page.

    python studies/large_workshop.py FOLDER [COLONIES] [READINGS] [PHOTOS]

By default 40 colonies with a visit a week, as many builds with a logger each, 10,000,000 readings of a year and 5,000
photos. What is written goes through the same functions as the commands'.
"""

import io
import shutil
import sys
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
from PIL import Image

from nestwright.workshop.builds import add_build
from nestwright.workshop.changes import act
from nestwright.workshop.colonies import add_bell, add_colony, move_in
from nestwright.workshop.database import writing
from nestwright.workshop.entries import Told, entry_of
from nestwright.workshop.folder import Workshop, create_workshop
from nestwright.workshop.photos import add_photo
from nestwright.workshop.placements import place_logger
from nestwright.workshop.readings import store_readings
from nestwright.workshop.tables import channel, logger
from nestwright.workshop.visits import add_visit

EXAMPLES = Path(__file__).parents[1] / "examples" / "workshop"
WEEKS = 48
DRAW = np.random.default_rng(5)


def place(part: str) -> dict[str, str]:
    return {"field": part}


def colonies(workshop: Workshop, count: int) -> list[int]:
    """Colonies that grew for up to a year, each in a build of its own; the last visit a few days ago."""
    today, rows = date.today(), []
    for n in range(count):
        name = f"Colony {n + 1:02d}"
        weeks = WEEKS - n % 30
        start = today - timedelta(days=7 * weeks + n % 5)
        with writing(workshop.engine) as connection:
            done = act(connection, f"{name} begun")
            row = add_colony(
                done,
                {
                    "name": name, "species": "Trachymyrmex septentrionalis", "start": start.isoformat(),
                    "arrival_garden_ml": 8.0, "arrival_workers": "10 to 40", "making_days": 7.0,
                },
            )  # fmt: skip
            add_bell(done, row, {"day": start.isoformat(), "usable_ml": 1500.0, "kind": "bell", "name": ""})
            built = add_build(
                done,
                {
                    "serial": f"B-{n + 1:03d}",
                    "habitat": "habitats/three-pot.toml",
                    "revision": "2",
                    "made": start.isoformat(),
                },
            )
            move_in(done, row, built, start.isoformat())
            for week in range(1, weeks + 1):
                day = start + timedelta(days=7 * week)
                volume = 8.0 + 160.0 / (1 + np.exp(-(week - 22) / 6)) * (1 + 0.04 * DRAW.standard_normal())
                told = Told(
                    date=day.isoformat(), garden=f"{volume:.0f} mL", garden_error="10 %", seen=("larvae", "pupae"),
                    feedings=(f"{1 + week / 12:.1f} g bramble",), waste=f"{0.2 + week / 60:.1f} g",
                    uid=f"made-{n}-{week}",
                )  # fmt: skip
                add_visit(done, row, entry_of(told, place))
        rows.append(row)
    return rows


def readings(workshop: Workshop, rows: list[int], count: int) -> None:
    """Temperature and humidity of each colony's logger, evenly over a year."""
    each = count // (2 * len(rows))
    end = int(datetime.now(UTC).timestamp() * 1000)
    at = np.linspace(end - 365 * 86_400_000, end - 60_000, each).astype(np.int64)
    day = at / 86_400_000
    for n, row in enumerate(rows):
        with writing(workshop.engine) as connection:
            done = act(connection, f"logger {n + 1} read")
            made = done.add(logger, {"name": f"logger-{n + 1:02d}", "mapping": ""})
            place_logger(done, made, None, row, "garden pot", int(at[0]))
            for what, unit, middle, swing, noise in (
                ("temperature", "degC", 24.0, 1.0, 0.05), ("humidity", "%", 96.0, 1.5, 0.3),
            ):  # fmt: skip
                of = done.add(channel, {"logger_id": made, "name": what, "quantity": what, "unit": unit})
                value = middle + swing * np.sin(2 * np.pi * day) + noise * DRAW.standard_normal(each)
                store_readings(connection, of, at, np.round(value, 2))


def photos(workshop: Workshop, rows: list[int], count: int) -> None:
    """Small photographs, each another."""
    for n in range(count):
        picture = Image.effect_noise((320, 240), 40).convert("RGB")
        picture.putpixel((n % 320, n // 320), (255, 0, 0))
        out = io.BytesIO()
        picture.save(out, "JPEG", quality=70)
        index = n % len(rows)
        with writing(workshop.engine) as connection:
            add_photo(
                act(connection, "photo"), workshop, out.getvalue(), shown=f"{n}.jpg",
                owner=f"Colony {index + 1:02d}", colony_id=rows[index],
            )  # fmt: skip


def main(folder: str, count: str = "40", values: str = "10000000", pictures: str = "5000") -> None:
    create_workshop(Path(folder), "Europe/Lisbon")
    for name in ("habitats", "rooms"):
        shutil.copytree(EXAMPLES / name, Path(folder) / name, dirs_exist_ok=True)
    workshop = Workshop(Path(folder))
    begun = time.perf_counter()
    rows = colonies(workshop, int(count))
    print(f"{len(rows)} colonies {time.perf_counter() - begun:.0f} s", flush=True)
    readings(workshop, rows, int(values))
    print(f"{int(values):,} readings {time.perf_counter() - begun:.0f} s", flush=True)
    photos(workshop, rows, int(pictures))
    print(f"{int(pictures):,} photos {time.perf_counter() - begun:.0f} s", flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
