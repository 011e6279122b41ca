"""Every reader of a user's file, with a file that it takes: what the fuzzing of `test_readers` and of
`studies/fuzz_files.py` begins from."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

SHOP = Path(__file__).parents[2] / "examples" / "workshop"

CURVE = b"hours,W\n0,0\n2,6.5\n20,4\n30,0\n"
FORECAST = (
    b"time,temperature,relative_humidity\n2026-01-12T00:00,3.5,85\n2026-01-12T06:00,-2,90\n2026-01-13T00:00,4,70\n"
)
LOGGER = b"".join((SHOP / "colonies" / "marigold-logger.csv").read_bytes().splitlines(keepends=True)[:12])
VISITS = (SHOP / "colonies" / "hollyhock-visits.csv").read_bytes()


def _habitat(path: Path) -> Any:
    from nestwright.habitat.file import read_habitat

    return read_habitat(path)


def _colony(path: Path) -> Any:
    from nestwright.colony.file import read_colony

    return read_colony(path)


def _visits(path: Path) -> Any:
    """A table of visits is judged with the colony whose file names it."""
    text = (SHOP / "colonies" / "hollyhock.toml").read_text()
    colony = path.parent / "colony.toml"
    colony.write_text(text.replace("hollyhock-visits.csv", path.name))
    return _colony(colony)


def _room(path: Path) -> Any:
    from nestwright.climate.rooms import read_room

    weather = path.parent / "weather"
    if not weather.exists():
        shutil.copytree(SHOP / "rooms" / "weather", weather)
    return read_room(str(path))


def _weather(path: Path) -> Any:
    from nestwright.climate.weather import read_weather

    return read_weather(path)


def _dry_run(path: Path) -> Any:
    from nestwright.climate.dry_run_log import read_logs

    return read_logs([path])


def _machines(path: Path) -> Any:
    from nestwright.parts.machines import read_machines

    return read_machines(path)


def _prices(path: Path) -> Any:
    from nestwright.parts.prices import read_prices

    return read_prices(path)


def _parcel(path: Path) -> Any:
    from nestwright.parcel.file import read_parcel

    return read_parcel(path)


def _curve(path: Path) -> Any:
    """A heat pack's curve is read with the parcel that names it."""
    text = (SHOP / "parcels" / "winter.toml").read_text()
    parcel = path.parent / "parcel.toml"
    kept = [line for line in text.splitlines() if not line.startswith(("iron", "duration"))]
    parcel.write_text("\n".join(kept).replace('kind = "heat"', f'kind = "heat"\ncurve = "{path.name}"') + "\n")
    return _parcel(parcel)


def _outside(path: Path) -> Any:
    from nestwright.parcel.outside import read_outside

    return read_outside(path.name, path.parent, datetime(2026, 1, 12, 2), 0.0)


def _live(path: Path) -> Any:
    from nestwright.sensing.live.mapping_file import read_live_mapping

    return read_live_mapping(path)


def _mapping(path: Path) -> Any:
    from nestwright.sensing.loggers.mapping_file import read_mapping

    return read_mapping(path)


def _logger(path: Path) -> Any:
    from nestwright.sensing.loggers import read_in_pieces, recognise

    return sum(part.line.size for part in read_in_pieces(path, recognise(path, "UTC")))


def _notices(path: Path) -> Any:
    from nestwright.workshop.notices import read_notices

    return read_notices(path.parent)


def _picture(path: Path) -> Any:
    from nestwright.sensing.photo.picture import read_picture

    return read_picture(path)


def _backup(path: Path) -> Any:
    from nestwright.workshop.backup import verify

    return verify(path)


def _made_mapping() -> bytes:
    from nestwright.sensing.loggers import recognise, to_toml

    return to_toml(recognise(SHOP / "colonies" / "marigold-logger.csv", "UTC")).encode()


def _made_picture() -> bytes:
    import io

    from PIL import Image

    kept = io.BytesIO()
    Image.linear_gradient("L").resize((160, 120)).convert("RGB").save(kept, "JPEG", exif=Image.Exif())
    return kept.getvalue()


def _made_backup() -> bytes:
    import tempfile

    from nestwright.workshop.backup import back_up
    from nestwright.workshop.folder import create_workshop

    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        made = create_workshop(place / "shop", "Europe/Lisbon")
        back_up(made, place / "copy.zip")
        made.engine.dispose()
        return (place / "copy.zip").read_bytes()


def _example(*parts: str) -> Callable[[], bytes]:
    return SHOP.joinpath(*parts).read_bytes


NOTICES = b"""[mail]
host = "mail.example.org"
from = "bench@example.org"
to = ["keeper@example.org"]
[webhook]
url = "https://example.org/alarm"
"""

READERS: dict[str, tuple[str, Callable[[], bytes], Callable[[Path], Any]]] = {
    "habitat": ("a.toml", _example("habitats", "three-pot.toml"), _habitat),
    "colony": ("a.toml", _example("colonies", "thistle.toml"), _colony),
    "visits": ("a.csv", lambda: VISITS, _visits),
    "room": ("a.toml", _example("rooms", "heated-room.toml"), _room),
    "weather": ("a.csv.gz", _example("rooms", "weather", "greensboro.csv.gz"), _weather),
    "dry run": ("a.csv", _example("dry-runs", "single-pot-inside.csv"), _dry_run),
    "machines": ("a.toml", _example("parts", "machines.toml"), _machines),
    "prices": ("a.toml", _example("parts", "prices.toml"), _prices),
    "parcel": ("a.toml", _example("parcels", "summer.toml"), _parcel),
    "curve of a pack": ("a.csv", lambda: CURVE, _curve),
    "outside of a parcel": ("a.csv", lambda: FORECAST, _outside),
    "live mapping": ("live.toml", _example("live.toml"), _live),
    "logger mapping": ("a.toml", _made_mapping, _mapping),
    "logger": ("a.csv", lambda: LOGGER, _logger),
    "notices": ("alarms.toml", lambda: NOTICES, _notices),
    "picture": ("a.jpg", _made_picture, _picture),
    "backup": ("a.zip", _made_backup, _backup),
}
"""Name: the file's name, what is in it, and its reader; none may raise but InputError."""
