"""Spoil every file that a user may hand in, thousands of times, and see that its reader takes or refuses it.

python studies/fuzz_files.py [NAME ...] [--seconds 60] [--from SEED]

Names: those of tests/attack/readers.py, else all, each for so many seconds. Prints files tried, refused and the
slowest, and for a finding the seed that repeats it; the exit code is their number. Needs nothing but the project
itself; what `studies/fuzz_readings.py` finds by coverage this finds by number.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
import traceback
from pathlib import Path

from nestwright.errors import FileError, InputError

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "attack"))
from readers import READERS
from spoiling import spoilt


def attack(name: str, seconds: float, first: int) -> int:
    """Findings in one reader."""
    shown, made, read = READERS[name]
    whole, found, refused, slowest, at, seed = made(), set[str](), 0, 0.0, first, first
    end = time.monotonic() + seconds
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / shown
        while time.monotonic() < end:
            path.write_bytes(spoilt(whole, seed))
            begun = time.perf_counter()
            try:
                read(path)
            except (InputError, FileError):
                refused += 1
            except Exception as error:
                last = traceback.extract_tb(error.__traceback__)[-1]
                place = f"{type(error).__name__} in {Path(last.filename).name}:{last.lineno}"
                if place not in found:
                    print(f"  {name}: seed {seed}: {place}: {str(error)[:100]}", flush=True)
                found.add(place)
            took = time.perf_counter() - begun
            if took > slowest:
                slowest, at = took, seed
            seed += 1
    print(
        f"{name}: {seed - first} files, {refused} refused, slowest {slowest:.2f} s (seed {at}), {len(found)} findings"
    )
    return len(found)


def main() -> int:
    """Attack the readers that were named."""
    parser = argparse.ArgumentParser()
    parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(READERS))
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--from", type=int, default=0, dest="first")
    told = parser.parse_args()
    wrong = [name for name in told.names if name not in READERS]
    if wrong:
        parser.error(f"no reader: {', '.join(wrong)}; there are {', '.join(READERS)}")
    return sum(attack(name, told.seconds, told.first) for name in told.names or READERS)


if __name__ == "__main__":
    sys.exit(main())
