"""Indoor air made from outdoor air: a heating setting, a slow building, and a moisture class."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.humidity_class import moisture_excess
from nestwright.climate.room_air import Room
from nestwright.climate.room_values import room_values
from nestwright.climate.weather import Weather
from nestwright.physics import air

__all__ = ["Indoor", "indoor_temperature", "indoor_vapour_pressure", "running_mean", "weather_room"]

_HOUR, _DAY, _YEAR = 3600.0, 86400.0, 365 * 86400.0


def _default(name: str) -> float:
    return room_values()[name].value


@dataclass(frozen=True)
class Indoor:
    """How a room is kept.

    `set_point` K; `set_back` K below it from `night[0]` to `night[1]` (hours of the day, 0 to 24); `cooling_limit` K
    or None; `gains` K above outdoors when nothing heats; `time_constant` s of the building; `humidity_class` 1 to 5
    of ISO 13788 and the place within it (0 lower, 1 upper limit). `assumed` names what nobody stated.
    """

    set_point: float
    humidity_class: int
    class_share: float = 1.0
    set_back: float = 0.0
    night: tuple[float, float] = (22.0, 6.0)
    cooling_limit: float | None = None
    gains: float | None = None
    time_constant: float | None = None
    assumed: tuple[str, ...] = ()

    def text(self) -> str:
        """The settings in one line, for the source of a room."""
        parts = [f"set-point {self.set_point - 273.15:.3g} °C"]
        if self.set_back:
            parts.append(f"{self.set_back:.2g} K lower from {_clock(self.night[0])} to {_clock(self.night[1])}")
        if self.cooling_limit is not None:
            parts.append(f"cooled above {self.cooling_limit - 273.15:.3g} °C")
        place = {0.0: "lower limit", 0.5: "middle", 1.0: "upper limit"}.get(
            self.class_share, f"{self.class_share * 100:.2g} % of it"
        )
        parts.append(f"ISO 13788 class {self.humidity_class}, {place}")
        if self.assumed:
            parts.append("assumed (judgement): " + ", ".join(self.assumed))
        return ", ".join(parts)


def _clock(hour: float) -> str:
    return f"{int(hour):02d}:{round(hour % 1 * 60):02d}"


def running_mean(
    time: NDArray[np.float64], values: NDArray[np.float64], time_constant: float, cyclic: bool = True
) -> NDArray[np.float64]:
    """Exponential running mean of a record that is linear between its knots.

    Parameters
    ----------
    time : array, shape (n,)
        s, rising.
    values : array, shape (n,)
        What is averaged.
    time_constant : float
        s.
    cyclic : bool
        True for a typical year: what comes before its start is its end. Otherwise it starts at the mean of the
        first day.

    Returns
    -------
    array, shape (n,)

    Notes
    -----
    Exact for linear pieces: the solution of dm/dt = (v - m)/time_constant.
    """
    mean = float(values[time <= time[0] + _DAY].mean())
    made = np.empty(len(values))
    for _ in range(2 if cyclic else 1):
        made[0] = mean
        for k in range(1, len(values)):
            mean = _relax(mean, values[k - 1], values[k], time[k] - time[k - 1], time_constant)
            made[k] = mean
    return made


def _relax(m: float, v0: float, v1: float, step: float, time_constant: float) -> float:
    s = step / time_constant
    gone = -math.expm1(-s)
    # v(t) = v0 + (v1 - v0) t/step; the ramp lags by (1 - gone/s).
    return m + (v0 - m) * gone + (v1 - v0) * (1 - gone / s)


def indoor_temperature(
    time: NDArray[np.float64], outdoor: NDArray[np.float64], indoor: Indoor, first_hour: float = 0.0
) -> NDArray[np.float64]:
    """Room temperature, K, of a heated building under outdoor air.

    Without heating or cooling the room runs after outdoors plus gains with the building's time constant, which is the
    running mean of outdoors plus gains. Heating holds it at the set-point, or after a night at the lower one brings it
    back at the reheat rate; cooling, where there is some, holds it below the limit.

    Parameters
    ----------
    time, outdoor : array, shape (n,)
        s from the start, rising; K.
    indoor : Indoor
        How the room is kept.
    first_hour : float
        Hour of the day at time 0.

    Returns
    -------
    array, shape (n,)
        K.

    Notes
    -----
    The rule is a judgement, with gains, time constant and reheat rate from `data/room.toml`: it knows no sun, no
    window that someone opens, no heating too weak for a cold night.
    """
    values = room_values()
    gains = _default("gains") if indoor.gains is None else indoor.gains
    tau = _default("time_constant") if indoor.time_constant is None else indoor.time_constant
    rate = values["reheat_rate"].value
    wanted = np.full(len(time), indoor.set_point)
    if indoor.set_back:
        wanted[_at_night((first_hour + time / _HOUR) % 24, indoor.night)] -= indoor.set_back
    free = outdoor + gains
    made = np.empty(len(time))
    limit = math.inf if indoor.cooling_limit is None else indoor.cooling_limit
    now = min(max(float(wanted[0]), float(free[time <= _DAY].mean())), limit)
    for _ in range(2 if _whole_year(time) else 1):
        made[0] = now
        for k in range(1, len(time)):
            step = time[k] - time[k - 1]
            drift = _relax(now, free[k - 1], free[k], step, tau)
            now = min(max(drift, min(float(wanted[k]), max(now, drift) + rate * step)), limit)
            made[k] = now
    return made


def _at_night(hour: NDArray[np.float64], night: tuple[float, float]) -> NDArray[np.bool_]:
    start, end = night
    return (hour >= start) & (hour < end) if start <= end else (hour >= start) | (hour < end)


def _whole_year(time: NDArray[np.float64]) -> bool:
    return bool(time[-1] - time[0] >= _YEAR - _DAY)


def indoor_vapour_pressure(
    time: NDArray[np.float64],
    outdoor: NDArray[np.float64],
    outdoor_vapour_pressure: NDArray[np.float64],
    room_temperature: NDArray[np.float64],
    indoor: Indoor,
) -> NDArray[np.float64]:
    """Vapour pressure of the room, Pa: outdoors plus the moisture excess of the class, capped near saturation.

    All arrays of shape (n,); s, K, Pa, K. The excess follows the running mean of outdoors (the standard: its monthly
    mean), so that it moves with the season and not with the hour. The cap is `highest_humidity` of `data/room.toml`.
    """
    tau = _default("time_constant") if indoor.time_constant is None else indoor.time_constant
    mean = running_mean(time, outdoor, tau, _whole_year(time))
    excess = moisture_excess(mean, indoor.humidity_class, indoor.class_share)
    most = _default("highest_humidity") * air.saturation_pressure(room_temperature)
    return np.asarray(np.minimum(outdoor_vapour_pressure + excess, most))


def weather_room(
    weather: Weather,
    indoor: Indoor,
    *,
    name: str = "",
    pressure: float | None = None,
    co2: float | None = None,
) -> Room:
    """The room's year under an outdoor record.

    Parameters
    ----------
    weather : Weather
        Outdoor air.
    indoor : Indoor
        How the room is kept.
    name : str
        Name of the room; the station's if empty.
    pressure : float, optional
        Pa; the mean of the record if not given.
    co2 : float, optional
        Mole fraction of the room's air.

    Returns
    -------
    Room
        One knot for each of the record. A typical year, which has no hour 0, gets one: its last hour, since it is
        a year that follows on itself.
    """
    time, outdoor, vapour = weather.time, weather.temperature, weather.vapour_pressure
    if weather.typical and 0 < time[0] <= 2 * _HOUR and time[-1] >= _YEAR - _HOUR:
        time = np.concatenate([[0.0], time])
        outdoor, vapour = np.concatenate([outdoor[-1:], outdoor]), np.concatenate([vapour[-1:], vapour])
    first_hour = float(time[0] / _HOUR % 24)
    start = weather.instant(float(time[0]))
    time = time - time[0]
    temperature = indoor_temperature(time, outdoor, indoor, first_hour)
    return Room(
        name=name or weather.name,
        time=time,
        temperature=temperature,
        vapour_pressure=indoor_vapour_pressure(time, outdoor, vapour, temperature, indoor),
        pressure=weather.mean_pressure if pressure is None else pressure,
        co2=_default("co2") if co2 is None else co2,
        o2=_default("o2"),
        start=start,
        source=f"{weather.source}; {indoor.text()}; indoor temperature by a rule of judgement",
    )
