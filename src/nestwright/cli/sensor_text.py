"""How calibrations and the state of sensors are printed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from nestwright.cli.output import console, figure, heading, plain, significant, table
from nestwright.wording.sensors import advice

if TYPE_CHECKING:
    from rich.table import Table

    from nestwright.sensing.calibration import Calibration
    from nestwright.workshop.at_reference import AtReference
    from nestwright.workshop.folder import Workshop
    from nestwright.workshop.live_tally import Counted
    from nestwright.workshop.readings import Channel
    from nestwright.workshop.sensor_state import SensorState
    from nestwright.workshop.sensors import Scale

__all__ = ["refused_table", "shown_calibration", "shown_sensor", "states_table", "wish"]

CAUTION = (
    "Salts for calibration stay in their closed box, away from ants, garden, children and food; some of them burn or "
    "are poisonous: gloves, and no drop on the sensor."
)
LEVELS = 5


def shown_calibration(
    channel: Channel,
    scale: Scale,
    found: Sequence[AtReference],
    made: Calibration | None,
    workshop: Workshop,
    *,
    stored: bool,
    level: float | None = None,
) -> None:
    """Print points, curve, residuals and uncertainty; `level` is what the sensor reads in use, in its unit."""
    from nestwright.cli.record import moment

    out = console()
    name = f"{channel.logger}.{channel.name}"
    for one in found:
        if one.point is None:
            out.print(plain(f"{one.standing.text}: {one.reason}. Needed: {advice(one)}."), soft_wrap=True)
        elif one.begin_of_rest is not None:
            said = f"{one.standing.reference}: {one.reason}, from {moment(one.begin_of_rest, workshop)}."
            out.print(plain(said), soft_wrap=True)
    if made is None:
        out.print("No point can be used.")
        return
    out.print(heading(f"Calibration of {name} on {made.when}"))
    _points(made, channel, scale)
    _curve(made, channel, scale, level)
    if scale.quantity == "relative_humidity":
        out.print(f"\n{CAUTION}", soft_wrap=True)
    out.print("Stored; readings stay raw and are corrected when they are shown." if stored else "Nothing was stored.")


def _unit(channel: Channel) -> str:
    return "% RH" if channel.quantity == "humidity" and channel.unit == "%" else channel.unit


def _points(made: Calibration, channel: Channel, scale: Scale) -> None:
    unit = _unit(channel)
    rows = []
    for point, residual in zip(made.points, made.residuals, strict=True):
        errors = [float(scale.spread(e)) for e in (point.reference_error, point.raw_error)]
        digits = [_decimals(e) for e in errors]
        warm = "" if point.temperature is None else figure(point.temperature - 273.15, 1)
        reads = [float(scale.shown(v)) for v in (point.reference, point.raw)]
        left = float(scale.spread(residual))
        rows.append(
            [
                point.label,
                warm,
                *(figure(v, d) for v, d in zip(reads, digits, strict=True)),
                *(significant(e, 2) for e in errors),
                figure(left, max(digits), sign=True),
            ]
        )
    head = ["point", "degC", f"true, {unit}", "read", "±, true", "read", "left over"]
    console().print(table(head, rows))


def _curve(made: Calibration, channel: Channel, scale: Scale, level: float | None) -> None:
    """Correction and its uncertainty at levels through the points, what it reads in use, and up to saturation."""
    import numpy as np

    from nestwright.sensing.calibration import correct

    out, unit = console(), _unit(channel)
    used = made.high if level is None else float(scale.si(level))
    low, high = min(made.low, used), max(made.high, used)
    top = 1.0 if scale.quantity == "relative_humidity" else high
    raw = np.linspace(low, top, LEVELS) if top > low else np.array([low])
    found = correct(made, raw)
    rows = []
    for level, value, error, outside in zip(raw, found.value, found.error, found.outside, strict=True):
        e = float(scale.spread(error))
        shown, true = float(scale.shown(level)), float(scale.shown(value))
        d = _decimals(e)
        shift = figure(true - shown, d, sign=True)
        rows.append(
            [figure(shown, d), shift, figure(true, d), significant(e, 2), "beyond the points" if outside else ""]
        )
    out.print()
    out.print(table([f"read, {unit}", "add", "true", "±", ""], rows, left=(4,)))
    kind = {1: "an offset only", 2: "a straight line", 3: "a quadratic"}[
        1 if len(made.points) == 1 else len(made.coefficients)
    ]
    chance = "" if made.chance is None else f"; chance of points that scatter more: {100 * made.chance:.0f} %"
    out.print(f"The curve is {kind}{chance}.", soft_wrap=True)
    for note in made.notes:
        out.print(plain(f"Note: {note}."), soft_wrap=True)
    out.print("Give or take: one standard uncertainty on that day; drift adds to it (spreads of drift: judgement).")


def _decimals(error: float) -> int:
    from nestwright.wording.sensors import decimals_of

    return decimals_of(error / 2, "")


def states_table(states: Sequence[SensorState]) -> Table:
    """Sensors in rows."""
    rows = []
    for s in states:
        unit = _unit(s.channel)
        last = s.calibrations[-1].calibration.when.isoformat() if s.calibrations else "never"
        step = "K" if s.channel.unit == "degC" else unit
        rows.append(
            [
                f"{s.channel.logger}.{s.channel.name}",
                last,
                "" if s.level is None else f"{significant(s.level, 3)} {unit}",
                "" if s.error is None else f"{significant(s.error, 2)} {step}",
                _drift(s, ""),
            ]
        )
    head = ["sensor", "calibrated", "reads", "±", "drift a year"]
    made = table(head, rows, left=(0, 1))
    for whole in (0, 1, 2, 3, 4):
        made.columns[whole].no_wrap = True
    return made


def wish(state: SensorState) -> str:
    """What is wanted of a sensor, and when it is due; "" where nothing is."""
    if state.channel.wanted_error is None:
        return ""
    step = "K" if state.channel.unit == "degC" else _unit(state.channel)
    when = f"due on {state.due}" if state.due else "not due"
    return f"{state.channel.wanted_error:g} {step} wanted, {when}: {state.why}"


def _drift(state: SensorState, unit: str) -> str:
    if state.drift is None:
        return ""
    middle, low, high = state.drift
    d = _decimals((high - low) / 2)
    return f"{figure(middle, d, sign=True)} ({figure(low, d, sign=True)} to {figure(high, d, sign=True)}){unit}"


def shown_sensor(state: SensorState, scale: Scale) -> None:
    """Print one sensor with all its calibrations."""
    out, channel = console(), state.channel
    unit = _unit(channel)
    step = "K" if channel.unit == "degC" else unit
    out.print(plain(f"{channel.logger}.{channel.name}, {channel.quantity}, {unit}"))
    if state.level is None or state.error is None or state.correction is None:
        out.print("No readings yet.")
        return
    d = _decimals(state.error)
    out.print(
        f"It reads {figure(state.level, d)} {unit} (mean of its last seven days in use); "
        f"{figure(state.correction, d, sign=True)} {step} is added today, ± "
        f"{significant(state.error, 2)} {step} (one standard uncertainty).",
        soft_wrap=True,
    )
    if state.drift is not None:
        out.print(f"Drift of what is added, a year: {_drift(state, f' {step}')}, 8 in 10.", soft_wrap=True)
    if channel.wanted_error is not None:
        out.print(f"{wish(state)}.", soft_wrap=True)
    else:
        out.print(f"{state.why[:1].upper()}{state.why[1:]}.", soft_wrap=True)
    for kept in state.calibrations:
        out.print(heading(f"Calibration of {kept.calibration.when}"))
        _points(kept.calibration, channel, scale)
        for note in (*kept.calibration.notes, kept.note):
            if note:
                out.print(plain(f"Note: {note}"), soft_wrap=True)


def refused_table(found: Sequence[Counted], workshop: Workshop) -> Table:
    """What live sensors sent and was not taken, the newest first."""
    from nestwright.cli.record import moment

    rows = [[moment(one.last, workshop), one.source, one.reason, f"{one.count:,}", one.began] for one in found]
    return table(["last", "from", "why", "times", "began"], rows, left=(0, 1, 2, 4))
