"""Search by coverage for files and messages that the readers of readings do not survive.

python studies/fuzz_readings.py logger|message|posted|mapping [--seconds 300] [--corpus FOLDER]

atheris (google/atheris, a libFuzzer for Python; `pip install atheris`, not among the project's dependencies) changes
bytes towards lines of `nestwright.sensing` that were not reached before. A finding is whatever is raised that is
neither InputError nor a refusal that is counted; a logger file must also give the same readings whatever pieces it is
read in. The input of a finding is written to the corpus folder, and repeated by giving it as an argument.
"""

from __future__ import annotations

import argparse
import math
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo

import atheris

with atheris.instrument_imports(include=["nestwright.sensing"], enable_loader_override=False):
    import nestwright.sensing.loggers as loggers
    from nestwright.sensing.live import load_live_mapping, read_message, read_posted
    from nestwright.sensing.live.mapping import Clock, LiveMapping

import numpy as np

from nestwright.errors import FileError, InputError

MOST = 20_000
"""Bytes of an input."""
ARRIVAL = 1_772_362_800_000
LIVE = """format = 1
[[topic]]
pattern = "bench/{logger}/{channel}"
[[topic.value]]
channel = "temperature"
quantity = "temperature"
unit = "degC"
[[topic]]
pattern = "garden/{logger}/state"
payload = "json"
time = "at"
time_form = "iso"
[[topic.value]]
channel = "humidity"
at = "air.h"
quantity = "humidity"
unit = "%"
[[topic]]
pattern = "pot/{logger}/state"
payload = "json"
time = "ms"
time_form = "ms"
[[topic.value]]
channel = "co2"
at = ["list", 0]
unit_at = "unit"
quantity = "co2"
unit = "ppm"
"""
SEEDS = {
    "logger": (
        b"time,temperature \xc2\xb0C,humidity %\n2026-03-01 00:00:00,20.5,80\n2026-03-01 00:01:00,20.6,81\n",
        b"Datum;Uhrzeit;Temp [\xb0C]\r\n01.03.2026;00:00;20,5\r\n01.03.2026;00:10;20,6\r\n",
        '"Nr","Date Time","Temp (°F)"\n"1","03/31/2026 01:00:00 PM","1,070.5"\n"2","03/31/2026 01:01:00 PM","70.6"\n'.encode(  # noqa: E501
            "utf-16"
        ),
        b"# pot\n1772362800 20.5 80\n1772362860 20.6 81\n1772362920 20.7 82\n",
    ),
    "message": (
        b"\x0023,4 \xc2\xb0C",
        b'\x01{"at": "2026-03-01T12:00:00Z", "air": {"h": 80}}',
        b'\x02{"ms": 1772362800000, "list": [400], "unit": "ppm"}',
    ),
    "posted": (
        b'[{"logger": "pot", "channel": "temperature", "value": 20.5, "unit": "degC", "time": "2026-03-01T12:00:00Z"}]',
    ),
    "mapping": (LIVE.encode(),),
}


def logger(data: bytes, place: Path) -> None:
    """Recognise and read a file; in small pieces it must come out as in one."""
    path = place / "log.csv"
    path.write_bytes(data)
    try:
        mapping = loggers.recognise(path, "UTC")
        assert loggers.load_mapping(loggers.to_toml(mapping)) == mapping, "the mapping changes when it is kept"
        whole = list(loggers.read_in_pieces(path, mapping))
        parts = list(loggers.read_in_pieces(path, mapping, size=256))
    except (InputError, FileError):
        return
    for name in ("line", "time", "value"):
        one, other = (np.concatenate([getattr(p, name) for p in many], axis=-1) for many in (whole, parts))
        assert np.array_equal(one, other, equal_nan=name == "value"), f"{name} depends on the pieces"
    counted = [{key: sum(p.counts[key] for p in many) for key in ("faults", "missing")} for many in (whole, parts)]
    assert counted[0] == counted[1], f"counts depend on the pieces: {counted}"


def message(data: bytes, _: Path) -> None:
    """One message to one of three topics; what it gives can be kept."""
    topics = ("bench/pot/temperature", "garden/pot/state", "pot/pot/state")
    topic = topics[data[0] % 3] if data else topics[0]
    found = read_message(load(), topic, data[1:], ARRIVAL, zone=ZoneInfo("Europe/Lisbon"))
    assert all(math.isfinite(one.value) and abs(one.at) < 2**53 for one in found.readings), found


def load() -> LiveMapping:
    """The mapping of the messages, read once."""
    if not KEPT:
        KEPT.append(load_live_mapping(LIVE))
    return KEPT[0]


KEPT: list[LiveMapping] = []


def posted(data: bytes, _: Path) -> None:
    """The body of a request."""
    try:
        found = read_posted(data, ARRIVAL, Clock.usual(), ZoneInfo("Europe/Lisbon"))
    except (InputError, FileError):
        return
    assert all(math.isfinite(one.value) and abs(one.at) < 2**53 for one in found), found


def mapping(data: bytes, _: Path) -> None:
    """A mapping file."""
    try:
        load_live_mapping(data.decode("utf-8", "replace"))
    except (InputError, FileError):
        return


TARGETS: dict[str, Callable[[bytes, Path], None]] = {
    "logger": logger, "message": message, "posted": posted, "mapping": mapping,
}  # fmt: skip


def main() -> None:
    """Search for a while; leaves with a trace at the first finding."""
    parser = argparse.ArgumentParser()
    parser.add_argument("target", choices=TARGETS)
    parser.add_argument("--seconds", type=int, default=300)
    parser.add_argument("--corpus", type=Path, default=Path("out/studies/fuzz"))
    told, rest = parser.parse_known_args()
    corpus = told.corpus / told.target
    corpus.mkdir(parents=True, exist_ok=True)
    for n, seed in enumerate(SEEDS[told.target]):
        (corpus / f"seed-{n}").write_bytes(seed)
    with tempfile.TemporaryDirectory() as folder:
        options = [f"-max_total_time={told.seconds}", f"-max_len={MOST}", f"-artifact_prefix={corpus}-finding-"]
        atheris.Setup([sys.argv[0], str(corpus), *options, *rest], lambda d: TARGETS[told.target](d, Path(folder)))
        atheris.Fuzz()


if __name__ == "__main__":
    main()
