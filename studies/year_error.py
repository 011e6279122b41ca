"""Error of a whole year against CVODE at 1e-9, for the shipped examples in a heated room.

Writes docs/how-it-computes/year-error.md.

python studies/year_error.py [DAYS]    (about half an hour for 365)
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from cvode_run import cvode_run

from nestwright.climate.proof import balances, simulate
from nestwright.climate.reading import zone_air
from nestwright.climate.room_air import Room
from nestwright.climate.rooms import read_room
from nestwright.data import load_species
from nestwright.habitat.assemble import Assembly, assemble
from nestwright.habitat.file import read_habitat

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "how-it-computes" / "year-error.md"


def first_days(room: Room, days: int) -> Room:
    keep = room.time <= days * 86400
    return Room(
        room.name, room.time[keep], room.temperature[keep], room.vapour_pressure[keep], room.pressure, room.co2, room.o2
    )


def gaps(assembly: Assembly, own: np.ndarray, reference: np.ndarray, hours: int) -> str:
    """Largest differences in K, % RH, % CO2 over all zones, of means over so many hours."""
    worst = np.zeros(3)
    for zone in assembly.network.zone_names:
        a, b = zone_air(assembly.network, own, zone), zone_air(assembly.network, reference, zone)
        for n, (field, scale) in enumerate((("temperature", 1.0), ("relative_humidity", 100.0), ("co2", 100.0))):
            gap = (getattr(a, field) - getattr(b, field)) * scale
            gap = gap[1 : 1 + len(gap) // hours * hours]
            gap = gap[: len(gap) // hours * hours].reshape(-1, hours).mean(axis=1)
            worst[n] = max(worst[n], float(np.abs(gap).max()))
    return " | ".join(f"{x:.1e}" for x in worst)


def main(days: int) -> None:
    room = read_room(str(ROOT / "examples" / "workshop" / "rooms" / "living-room.toml"))
    lines = [
        "# Error of a year",
        "",
        f"Made by `studies/year_error.py`: the first days of {room.name!r}, every hour and chamber, against SUNDIALS",
        "CVODE (BDF, relative tolerance 1e-9) with the same rates, its own steps and events. Largest differences.",
        "An on/off thermostat swings by itself and two solvers drift in phase: day means stand below such a habitat.",
        "",
        "| habitat | days | states | steps | K | % RH | % CO2 | worst balance |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for name in ("single-pot", "three-pot", "glass-case", "heated-bench"):
        h = read_habitat(ROOT / "examples" / "workshop" / "habitats" / f"{name}.toml")
        loops = any(heater.control == "thermostat" for heater in h.heaters)
        count = days
        part = first_days(room, count)
        assembly = assemble(h, load_species(h.species), pressure=part.pressure)
        own, stats, _ = simulate(assembly, part)
        reference = cvode_run(assembly, part)
        closed = max(balances(assembly, own[0], own[-1]).values())
        lines.append(
            f"| {name} | {count} | {assembly.network.net.size} | {int(stats[0])} | "
            f"{gaps(assembly, own, reference, 1)} | {closed:.0e} |"
        )
        print(lines[-1], flush=True)
        if loops:
            lines.append(f"| {name}, day means | {count} | | | {gaps(assembly, own, reference, 24)} | |")
            print(lines[-1], flush=True)
    PAGE.write_text("\n".join(lines) + "\n", "utf-8")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 365)
