"""Compiles what is told by using each of its runs once, small: `python tests/compiling.py colony parcel`, or `air`."""

import sys
from pathlib import Path

WORKSHOP = Path(__file__).parents[1] / "examples" / "workshop"


def air() -> None:
    from nestwright.climate.proof import prove
    from nestwright.climate.room_window import window
    from nestwright.climate.rooms import read_room
    from nestwright.habitat.file import read_habitat

    habitat = read_habitat(WORKSHOP / "habitats" / "single-pot.toml")
    prove(habitat, read_room("21 degC, 45 %"))
    window(habitat, points=2)


def parcel() -> None:
    from nestwright.parcel.carry import carry, carry_many
    from nestwright.parcel.file import read_parcel

    found = read_parcel(WORKSHOP / "parcels" / "winter.toml")
    carry(found)
    carry_many(found, {}, [0.0, 1.0])


def colony() -> None:
    from nestwright.colony.diagnosis import diagnose
    from nestwright.colony.file import read_colony
    from nestwright.colony.fit import fit
    from nestwright.colony.forecast import forecast

    found = read_colony(WORKSHOP / "colonies" / "hollyhock.toml")
    forecast(fit(found, particles=20, moves=1), 10, paths=10)
    diagnose(found, particles=20, moves=1, look=False)


if __name__ == "__main__":
    for what in sys.argv[1:]:
        {"air": air, "colony": colony, "parcel": parcel}[what]()
