"""What every room must be, and places the tests of rooms share."""

from contextlib import contextmanager
from pathlib import Path

import numpy as np

from nestwright.errors import InputError

ROOT = Path(__file__).parents[2]
ROOMS = ROOT / "examples/workshop/rooms"


def check_contract(room):
    """The promises of `Room`: shapes, order, and air that can be."""
    assert room.time.shape == room.temperature.shape == room.vapour_pressure.shape
    assert len(room.time) >= 2
    assert room.time[0] == 0
    assert (np.diff(room.time) > 0).all()
    assert np.isfinite([*room.temperature, *room.vapour_pressure, room.pressure, room.co2, room.o2]).all()
    assert (room.temperature > 200).all()
    assert (room.vapour_pressure > 0).all()
    assert 30000 <= room.pressure <= 110000
    assert isinstance(room.source, str)
    assert room.source


@contextmanager
def only_input_errors(file=""):
    """Lets InputError through whose message begins with the file's name; any other exception fails the test."""
    told = None
    try:
        yield
    except InputError as error:
        told = str(error)
    assert told is None or (told and told.startswith(str(file)))
