"""The long work behind the climate page: a year's proof and its window, the run in the measured room, its intervals.

Each result is kept by what it depends on, so that going back to it is instant.
"""

from __future__ import annotations

import hashlib
import json
import threading
import tomllib
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from nestwright.document import load_document
from nestwright.errors import FileError, InputError
from nestwright.web.habitat_files import HabitatFile, room_of
from nestwright.web.jobs import Job, Jobs
from nestwright.web.named import step
from nestwright.workshop.folder import Workshop

if TYPE_CHECKING:
    from nestwright.climate.intervals import Intervals
    from nestwright.climate.results import WindowMap, YearProof
    from nestwright.climate.room_air import Room
    from nestwright.errands.as_built import Standing
    from nestwright.habitat.model import Habitat
    from nestwright.web.climate_measured import Measured
    from nestwright.workshop.builds import Made

__all__ = ["RESULTS", "Asked", "Results", "Year", "asked", "begin", "found"]

MOST = 120
"""Results and pictures that are kept; a year takes about a megabyte and its pictures less."""
SHARES = {"year": 8.0, "built": 3.0, "measured": 2.0, "intervals": 1.0}
"""About how long each part of the work takes beside the others."""


class Results:
    """Results by key; the ones longest unused make room for new ones."""

    def __init__(self, most: int = MOST) -> None:
        self._most, self._lock = most, threading.Lock()
        self._kept: OrderedDict[str, Any] = OrderedDict()

    def get(self, key: str) -> Any:
        """The result of a key, None where there is none."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)

    def put(self, key: str, value: Any) -> Any:
        with self._lock:
            self._kept[key] = value
            self._kept.move_to_end(key)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return value


RESULTS = Results()
"""Of this process: a key names the files' contents, so that equal keys have equal results."""


@dataclass(frozen=True)
class Year:
    """A habitat's proof over a room's record, its window with the room's hours over it, and a build's part of the
    proof as `cli.as_built.as_built` gives it, None without a build."""

    habitat: Habitat
    room: Room
    proof: YearProof
    window: WindowMap
    built: dict[str, Any] | None = None

    def to_dict(self) -> dict[str, Any]:
        """The JSON of `nestwright climate --year`."""
        return self.proof.to_dict() | (self.built or {})


@dataclass(frozen=True)
class Asked:
    """What a page asks for: a habitat, and the file that it stands in.

    `room` as told, "" for none yet; `spec` what the commands call it; `build` None for a design; `measured` the air of
    the build's room as its loggers read it, None for none.
    """

    file: HabitatFile
    habitat: Habitat
    room: str
    spec: str
    build: Standing | None
    measured: Room | None
    keys: dict[str, str]
    """Key of each part that is wanted."""

    @property
    def address(self) -> str:
        """Address of the page that shows it."""
        path = f"build/{step(self.build.made.serial)}" if self.build else step(self.file.stem)
        return f"/climate/{path}" + (f"?room={quote(self.room, safe='')}" if self.room else "")

    @property
    def key(self) -> str:
        return "climate/" + _sum(self.keys)


def _sum(told: Any) -> str:
    return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()[:40]


def asked(workshop: Workshop, file: HabitatFile, room: str, made: Made | None, measured: Measured | None) -> Asked:
    """What is to be worked out for a habitat or a build in a room. Raises InputError for a room that is none, or a
    habitat's file that is at fault (FileError where it has several faults)."""
    from nestwright.errands.as_built import standing
    from nestwright.habitat.file import with_values

    habitat = with_values(load_document(file.text, file.told), {})
    build = None if made is None else standing(made, workshop)
    room = room.strip()
    spec = room_of(workshop, room) if room else ""
    base = [str(workshop.folder.resolve()), file.text]
    keys = {}
    if room:
        keys["year"] = _sum(["year", *base, _room_print(workshop, spec)])
        if build is not None:
            dry = None if build.dry is None else [build.dry.day, build.dry.file, _sum(build.dry.builds.to_dict())]
            keys["built"] = _sum(["built", keys["year"], build.made.serial, str(build.made.values["revision"]), dry])
    if measured is not None and measured.room is not None:
        air = measured.room
        columns = (air.time, air.temperature, air.vapour_pressure)
        sums = [hashlib.sha256(c.tobytes()).hexdigest() for c in columns]
        keys["measured"] = _sum(["measured", *base, sums, air.co2, air.start])
    if measured is not None and (run := keys.get("measured") or keys.get("year")):
        keys["intervals"] = _sum(["intervals", run])
    return Asked(file, habitat, room, spec, build, None if measured is None else measured.room, keys)


def _room_print(workshop: Workshop, spec: str) -> list[Any]:
    """What the air of a room rests on: a pair, or a room file's text and the file that it names, by time and size."""
    folder = workshop.folder / "rooms"
    path = folder / spec.rpartition("/")[2]
    if not (spec.endswith(".toml") and path.is_file()):
        return [spec]
    text = path.read_bytes()
    made: list[Any] = [spec, hashlib.sha256(text).hexdigest()]
    try:
        named = folder / str(tomllib.loads(text.decode("utf-8-sig")).get("file", ""))
        if named.is_file():
            about = named.stat()
            made += [about.st_mtime_ns, about.st_size]
    except (ValueError, OSError):
        pass  # what is wrong with it the proof tells
    return made


def found(told: Asked) -> dict[str, Any] | None:
    """Every part that is wanted, by name; None where one is not there yet."""
    parts = {name: RESULTS.get(key) for name, key in told.keys.items()}
    return None if None in parts.values() else parts


def begin(jobs: Jobs, told: Asked, *, again: bool = False, back: str = "") -> Job:
    """The work on what is missing: the job that is going, stopped or failed, or a new one; a new one `again`. `back`:
    page to come back to, where that is another than the climate page."""
    there = jobs.last(told.key)
    if there is not None and (there.going or (there.state in ("stopped", "failed") and not again)):
        return there
    title = f"The year of {told.file.stem}" if told.room else f"{told.file.stem} in the room that was measured"
    return jobs.start(told.key, title, back or told.address, lambda job: _work(told, job), fresh=True)


def _work(told: Asked, job: Job) -> None:
    from nestwright.climate.proof import NotSettled

    missing = [name for name in SHARES if name in told.keys and RESULTS.get(told.keys[name]) is None]
    whole, done = sum(SHARES[name] for name in missing) or 1.0, 0.0
    for name in missing:

        def report(share: float, done: float = done, part: float = SHARES[name]) -> None:
            job.report((done + part * float(share)) / whole)

        try:
            RESULTS.put(told.keys[name], PARTS[name](told, report))
        except NotSettled as reason:
            raise InputError("finds no steady air in this room", found=str(reason)) from None
        except FileError as faults:
            raise faults.errors[0] from None
        done += SHARES[name]
        report(0.0, done)


Report = Callable[[float], None]


def _year(told: Asked, report: Report) -> Year:
    from nestwright.climate.proof import prove_year
    from nestwright.climate.room_window import window
    from nestwright.climate.rooms import read_room

    room = read_room(told.spec)
    proof = prove_year(told.habitat, room, progress=lambda share: report(0.7 * float(share)))
    return Year(told.habitat, room, proof, window(told.habitat, room))


def _built(told: Asked, report: Report) -> Year:
    from nestwright.errands.as_built import as_built

    year: Year = RESULTS.get(told.keys["year"]) or _year(told, report)
    assert told.build is not None
    return replace(year, built=as_built(told.build, year.habitat, year.room, year.proof.mean))


def _measured(told: Asked, report: Report) -> YearProof:
    from nestwright.climate.proof import prove_year

    assert told.measured is not None
    return prove_year(told.habitat, told.measured, progress=report)


def _intervals(told: Asked, report: Report) -> Intervals:
    from nestwright.climate.intervals import zone_intervals
    from nestwright.climate.rooms import read_room

    return zone_intervals(told.habitat, told.measured or read_room(told.spec), progress=report)


PARTS: dict[str, Callable[[Asked, Report], Any]] = {
    "year": _year,
    "built": _built,
    "measured": _measured,
    "intervals": _intervals,
}
"""How each part of the work is done."""
