"""Moisture that people and their doings add to indoor air: the humidity classes of ISO 13788."""

from __future__ import annotations

from typing import Any

import numpy as np

from nestwright.climate.room_values import room_values
from nestwright.errors import InputError

__all__ = ["CLASSES", "check_class", "moisture_excess"]

CLASSES = {
    1: "unoccupied buildings, storage of dry goods",
    2: "offices, dwellings with normal occupancy and ventilation",
    3: "buildings with unknown occupancy",
    4: "sports halls, kitchens, canteens",
    5: "special buildings, such as laundries, breweries, swimming pools",
}
"""Class to the buildings that ISO 13788:2012, table A.1, names for it (wording from memory)."""


def check_class(humidity_class: Any, *, file: str = "", line: int = 0, field: str = "humidity_class") -> int:
    """The class as an int. Raises InputError when it is not 1 to 5."""
    if isinstance(humidity_class, bool) or not isinstance(humidity_class, int) or humidity_class not in CLASSES:
        raise InputError(
            "no humidity class of ISO 13788", file=file, line=line, field=field, found=repr(humidity_class),
            allowed="1, 2, 3, 4 or 5",
        )  # fmt: skip
    return humidity_class


def moisture_excess(outdoor_temperature: Any, humidity_class: int, share: float = 1.0) -> Any:
    """Indoor less outdoor vapour pressure, Pa, of a humidity class.

    Parameters
    ----------
    outdoor_temperature : float or array
        Mean outdoor temperature, K. The standard takes monthly means; shorter means are our extension.
    humidity_class : int
        1 to 5.
    share : float
        Place within the class: 0 its lower limit, 1 its upper limit (which the standard takes in calculations,
        because it looks for mould and dripping; where drying is the harm, a smaller share is the careful choice).

    Returns
    -------
    float or array
        Pa, shape of `outdoor_temperature`: full below 0 degC, falling linearly to zero at 20 degC.

    Raises
    ------
    InputError
        When the class is not 1 to 5.

    Examples
    --------
    >>> round(float(moisture_excess(283.15, 3)))
    405

    References
    ----------
    ISO 13788:2012, Hygrothermal performance of building components and building elements, annex A.
    """
    number = check_class(humidity_class)
    values = room_values()
    upper = values[f"excess_class_{number}"].value
    lower = values[f"excess_class_{number - 1}"].value if number > 1 else 0.0
    cold, warm = values["excess_full_below"].value, values["excess_zero_above"].value
    full = lower + share * (upper - lower)
    return full * np.clip((warm - np.asarray(outdoor_temperature, dtype=float)) / (warm - cold), 0.0, 1.0)
