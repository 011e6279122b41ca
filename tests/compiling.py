"""Compiles one of the hearts by using each of its runs once, small: `python tests/compiling.py air` or `colony`."""

import sys
from pathlib import Path

WORKSHOP = Path(__file__).parents[1] / "examples" / "workshop"


def air() -> None:
    from nestwright.climate.proof import prove
    from nestwright.climate.room_window import window
    from nestwright.climate.rooms import read_room
    from nestwright.habitat.file import read_habitat
    from nestwright.parcel.carry import carry, carry_many
    from nestwright.parcel.file import read_parcel

    habitat = read_habitat(WORKSHOP / "habitats" / "single-pot.toml")
    prove(habitat, read_room("21 degC, 45 %"))
    window(habitat, points=2)
    parcel = read_parcel(WORKSHOP / "parcels" / "winter.toml")
    carry(parcel)
    carry_many(parcel, {}, [0.0, 1.0])


def colony() -> None:
    from nestwright.colony.diagnosis import diagnose
    from nestwright.colony.file import read_colony
    from nestwright.colony.fit import fit
    from nestwright.colony.forecast import forecast

    found = read_colony(WORKSHOP / "colonies" / "hollyhock.toml")
    forecast(fit(found, particles=20, moves=1), 10, paths=10)
    diagnose(found, particles=20, moves=1, look=False)


if __name__ == "__main__":
    {"air": air, "colony": colony}[sys.argv[1]]()
