"""Relative humidity over saturated salt solutions: the fixed points that humidity sensors are held against."""

from __future__ import annotations

import csv
import functools
import re
from dataclasses import dataclass
from importlib import resources

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nestwright.errors import InputError, nearest_name
from nestwright.sensing.sensor_values import sensor_value

__all__ = ["formula", "names", "relative_humidity", "slope", "uncertainty"]

Array = NDArray[np.float64]

_ZERO = 273.15
_DEGREE = 3


@dataclass(frozen=True)
class _Table:
    temperature: Array
    """degC, rising"""
    uncertainty: Array
    """as the paper states it, 0 to 1"""
    polynomial: np.polynomial.Polynomial


def _rows(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader((resources.files("nestwright.data") / name).read_text("utf-8").splitlines()))


@functools.cache
def _tables() -> dict[str, _Table]:
    rows: dict[str, list[tuple[float, float, float]]] = {}
    for row in _rows("salts.csv"):
        numbers = (row["temperature_degC"], row["relative_humidity_pct"], row["uncertainty_pct"])
        t, rh, u = (float(x) for x in numbers)
        rows.setdefault(row["salt"], []).append((t, rh / 100, u / 100))
    found = {}
    for salt, entries in rows.items():
        t, rh, u = np.array(sorted(entries)).T
        found[salt] = _Table(t, u, np.polynomial.Polynomial.fit(t, rh, _DEGREE))
    return found


def _plain(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", name.casefold())


@functools.cache
def _formulas() -> dict[str, str]:
    """Formula by every name, in plain letters."""
    known = {_plain(salt): salt for salt in _tables()}
    return known | {_plain(row["name"]): row["salt"] for row in _rows("salt_names.csv")}


def names() -> dict[str, tuple[str, ...]]:
    """Formula of each salt, driest first, with its common names."""
    common: dict[str, list[str]] = {salt: [] for salt in _tables()}
    for row in _rows("salt_names.csv"):
        common[row["salt"]].append(row["name"])
    return {salt: tuple(found) for salt, found in common.items()}


def formula(salt: str) -> str:
    """Formula of a salt told by formula or common name; case, spaces and dots do not matter.

    Raises
    ------
    InputError : unknown salt, with the nearest name.

    Examples
    --------
    >>> formula("table salt"), formula("mgcl2")
    ('NaCl', 'MgCl2')
    """
    known = _formulas()
    if _plain(salt) in known:
        return known[_plain(salt)]
    written = [name for one, others in names().items() for name in (one, *others)]
    by_plain = {_plain(name): name for name in written}
    near = nearest_name(_plain(salt), by_plain)
    raise InputError(
        "no fixed point is known for this salt",
        field="salt",
        found=repr(salt),
        allowed=", ".join(f"{one} ({others[0]})" for one, others in names().items()),
        nearest=by_plain.get(near, ""),
    )


def _looked_up(salt: str, temperature: ArrayLike) -> tuple[_Table, Array]:
    table = _tables()[formula(salt)]
    celsius = np.asarray(temperature, dtype=float) - _ZERO
    low, high = table.temperature[0], table.temperature[-1]
    # a hair of room, because 5 degC is 278.15 K only but for rounding
    bad = ~((celsius >= low - 1e-9) & (celsius <= high + 1e-9))
    if np.any(bad):
        raise InputError(
            "the table of this salt does not reach this temperature",
            field="temperature",
            found=f"{float(np.atleast_1d(celsius)[np.atleast_1d(bad)][0]):.1f} degC",
            allowed=f"{low:g} to {high:g} degC for {formula(salt)}",
        )
    return table, celsius


def relative_humidity(salt: str, temperature: ArrayLike) -> Array:
    """Relative humidity of the air over a saturated solution with undissolved salt in it.

    Parameters
    ----------
    salt : formula or common name, such as "NaCl", "sodium chloride", "table salt".
    temperature : K, any shape; of solution, air and sensor alike.

    Returns
    -------
    Relative humidity, 0 to 1, shape of `temperature`.

    Raises
    ------
    InputError : unknown salt; temperature outside the table (5 to 35 degC).

    Notes
    -----
    The paper's own fits are polynomials of third degree at most. Between the rows of its table stands the cubic of
    least squares through them, which meets rows and polynomials to 0.01 % RH.

    Examples
    --------
    >>> round(float(relative_humidity("table salt", 298.15)), 4)
    0.7529

    References
    ----------
    Greenspan 1977, J. Res. Natl. Bur. Stand. 81A:89, 10.6028/jres.081A.011; ASTM E104.
    """
    table, celsius = _looked_up(salt, temperature)
    return np.asarray(table.polynomial(celsius), dtype=float)


def uncertainty(salt: str, temperature: ArrayLike) -> Array:
    """Standard uncertainty of `relative_humidity`, 0 to 1; parameters and errors as there.

    Half the uncertainty that the paper states (it is taken for two standard uncertainties: judgement), in a straight
    line between the rows. Pure salt, no difference of temperature; for these see `reference_points.salt_point`.

    Examples
    --------
    >>> round(float(uncertainty("NaCl", 298.15)), 5)
    0.0006
    """
    table, celsius = _looked_up(salt, temperature)
    stated = np.interp(celsius, table.temperature, table.uncertainty)
    return np.asarray(stated / sensor_value("reference", "salt_coverage").value, dtype=float)


def slope(salt: str, temperature: ArrayLike) -> Array:
    """Change of `relative_humidity` with temperature, 1/K; parameters and errors as there."""
    table, celsius = _looked_up(salt, temperature)
    return np.asarray(table.polynomial.deriv()(celsius), dtype=float)
