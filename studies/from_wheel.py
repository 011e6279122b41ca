"""What a stranger gets: wheel and sdist are built, the wheel alone is installed without any extra, and its demo is run.

python studies/from_wheel.py [--extras all]

Prints sizes and seconds; leaves nothing behind. Asks the package index that pip is set up with.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
import venv
from pathlib import Path

ROOT = Path(__file__).parents[1]


def timed(what: str, *command: str | Path, at: Path) -> str:
    """The output of a command that must succeed, its seconds told."""
    begun = time.monotonic()
    done = subprocess.run([str(one) for one in command], cwd=at, capture_output=True, text=True)
    print(f"{what}: {time.monotonic() - begun:.0f} s", flush=True)
    if done.returncode:
        sys.exit(done.stdout[-3000:] + done.stderr[-3000:])
    return done.stdout


def megabytes(place: Path) -> float:
    files = [place] if place.is_file() else place.rglob("*")
    return sum(file.stat().st_size for file in files if file.is_file()) / 1e6


def main() -> None:
    """Build, install, run."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--extras", default="", help="such as page,papers or all")
    extras = parser.parse_args().extras
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        for target in ("wheel", "sdist"):
            timed(target, sys.executable, "-m", "hatchling", "build", "-t", target, "-d", place / "dist", at=ROOT)
        for file in sorted((place / "dist").iterdir()):
            print(f"  {file.name}: {megabytes(file):.1f} MB")
        (wheel,) = (place / "dist").glob("*.whl")
        venv.create(place / "env", with_pip=True)
        before, bin = megabytes(place / "env"), place / "env" / "bin"
        timed("install", bin / "pip", "install", "-q", f"{wheel}[{extras}]" if extras else wheel, at=place)
        print(f"  {megabytes(place / 'env') - before:.0f} MB")
        timed("--help", bin / "nestwright", "--help", at=place)
        told = timed("demo", bin / "nestwright", "demo", place / "demo", at=place)
        print("  " + told.strip().splitlines()[-1])
        sheet = subprocess.run(
            [bin / "nestwright", "photo", "--sheet", "sheet.pdf"], cwd=place, capture_output=True, text=True
        )
        print(f"photo --sheet: exit code {sheet.returncode} {sheet.stderr.strip()}")


if __name__ == "__main__":
    main()
