"""A calibration in steps: which channel, over which references, whether it is at rest by now, the curve, keeping it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any

import numpy as np
from fastapi import APIRouter, Form, Query, Request
from sqlalchemy import Connection
from starlette.responses import Response

from nestwright.errors import InputError
from nestwright.sensing import salts
from nestwright.sensing.calibration import Calibration
from nestwright.web.named import Named
from nestwright.web.pages.sensors import address_of
from nestwright.web.preferences import typed
from nestwright.web.render import faults_of, page, recorded, shown_for, workshop_at
from nestwright.web.sensor_rows import name_of, unit_of
from nestwright.web.shown import Shown
from nestwright.web.spark import curve
from nestwright.workshop.at_reference import AtReference, Standing, standing_of
from nestwright.workshop.calibrating import Level, Tried, apart, beside_of, levels, scale_wanted, try_points
from nestwright.workshop.changes import Act, act, now
from nestwright.workshop.database import reading, writing
from nestwright.workshop.folder import Workshop
from nestwright.workshop.readings import Channel, channels_of, find_channel, find_logger, read_raw
from nestwright.workshop.sensors import Scale, keep_calibration, scale_of

router = APIRouter(prefix="/sensors/{logger}/calibrate")
ROWS = 2
"""References that may be told at first; each that is told makes room for one more."""
MOST = 6
OTHERS = {"temperature": "ice", "co2": "outdoor air"}
FIRST = ("NaCl", "K2SO4")
"""Salts that are proposed: the damp end matters most for a garden."""
AT = 298.15
"""K, at which the humidity of a salt is told in the list."""
POINTS = 240

Told = Annotated[list[str] | None, Query()]


@dataclass(frozen=True)
class Row:
    """A reference as it was typed; `until` empty while the sensor still stands there."""

    reference: str = ""
    since: str = ""
    until: str = ""


def _rows(references: list[str] | None, since: list[str] | None, until: list[str] | None) -> list[Row]:
    columns = [[text.strip()[:60] for text in one or []] for one in (references, since, until)]
    length = min(MOST, max(map(len, columns)))
    filled = [one + [""] * (length - len(one)) for one in columns]
    return [Row(*(one[k] for one in filled)) for k in range(length)]


@router.get("")
def walk(
    request: Request, logger: Named, channel: str = "", reference: Told = None, since: Told = None, until: Told = None,
    warm: str = "",
) -> Response:  # fmt: skip
    """The steps, as far as they are told."""
    return _walk(request, logger, channel[:200], _rows(reference, since, until), typed(request, warm[:80]))


@router.get("/state")
def state(
    request: Request, logger: Named, channel: str = "", reference: Told = None, since: Told = None, until: Told = None,
    warm: str = "",
) -> Response:  # fmt: skip
    """Only how the points stand by now: a piece of the page that asks for itself again while they wait."""
    rows = _rows(reference, since, until)
    values = _values(request, logger, channel[:200], rows, typed(request, warm[:80]))
    return page(request, "calibrate_state.html", **values)


@router.post("")
def keep(
    request: Request,
    logger: Named,
    channel: Annotated[str, Form()] = "",
    reference: Annotated[list[str] | None, Form()] = None,
    since: Annotated[list[str] | None, Form()] = None,
    until: Annotated[list[str] | None, Form()] = None,
    warm: Annotated[str, Form()] = "",
    note: Annotated[str, Form()] = "",
) -> Response:
    """Keep the calibration, once all of its points are at rest."""
    from nestwright.workshop.typed import lines_of_text

    workshop, rows, warm = workshop_at(request), _rows(reference, since, until), typed(request, warm[:80])
    try:
        told = lines_of_text(note, "note")
        with writing(workshop.engine) as connection:
            one, _, tried = _tried(connection, workshop, logger, channel[:200], rows, warm)
            if tried is None or tried.made is None or not tried.whole:
                raise InputError(
                    "cannot be kept yet", field="reference", allowed="references at which all readings are at rest"
                )
            done = act(connection, f"calibration of {one.logger}.{one.name}")
            _keep(done, one, tried.made, tried, told)
    except InputError as error:
        return _walk(request, logger, channel[:200], rows, warm, 422, error, note)
    return recorded(address_of(logger), done.step)


def _keep(done: Act, one: Channel, made: Calibration, tried: Tried, note: str) -> None:
    try:
        keep_calibration(done, one.id, made, tried.spans, note)
    except InputError as error:
        raise InputError(
            error.message, field="reference", found=error.found,
            allowed="other times, or take that one back first, in the history",
        ) from None  # fmt: skip


def _walk(
    request: Request, logger: str, channel: str, rows: list[Row], warm: str, status: int = 200,
    error: InputError | None = None, note: str = "",
) -> Response:  # fmt: skip
    values = _values(request, logger, channel, rows, warm)
    if error is not None:
        values["faults"] = faults_of(error)
    return page(request, "calibrate.html", status, note=note, **values)


def _values(request: Request, logger: str, channel: str, rows: list[Row], warm: str) -> dict[str, Any]:
    workshop, show = workshop_at(request), shown_for(request)
    values: dict[str, Any] = {
        "logger": logger, "address": address_of(logger), "channel": channel, "one": None, "warm": warm, "faults": [],
        "rows": rows, "points": [], "made": None, "whole": False, "waiting": False, "levels": [],
        "at": now(), "kind": "", "references": [], "curve_points": [], "unit": "",
    }  # fmt: skip
    with reading(workshop.engine) as connection:
        find_logger(connection, logger)
        every = channels_of(connection)
        values["channels"] = [(c, name_of(c)) for c in every if c.logger == logger and scale_of(c) is not None]
        values["warms"] = [f"{c.logger}.{c.name}" for c in every if c.quantity == "temperature"]
        if not channel:
            return values
        one = find_channel(connection, f"{logger}.{channel}")
        scale = scale_wanted(one)
        values |= {"one": one, "what": name_of(one), "kind": scale.quantity, "unit": unit_of(one, show)}
        values["references"], values["rows"] = _references(scale), _with_room(rows, scale)
        try:
            _, _, tried = _tried(connection, workshop, logger, channel, rows, warm)
        except InputError as error:
            values["faults"] = faults_of(error)
            return values
        if tried is None:
            return values
        told = [row for row in rows if row.since]
        values["points"] = [
            _point(connection, one, standing, found, fault, row)
            for (standing, found, fault), row in zip(tried.points, told, strict=True)
        ]
        values["made"], values["whole"] = tried.made, tried.whole
        values["waiting"] = not tried.whole and any(not row.until for row in told)
        if tried.made is not None:
            values["levels"] = [_level_row(level, one, show) for level in levels(tried.made, scale, tried.level)]
            values["curve_points"] = _curve_points(tried.made, one, scale, show)
    return values


def _with_room(rows: list[Row], scale: Scale) -> list[Row]:
    """The rows with room for more salts: two at first, one more once all are told; there is one ice only."""
    many = scale.quantity == "relative_humidity"
    full = many and all(row.since for row in rows)
    room = max((ROWS if many else 1) - len(rows), min(1, MOST - len(rows)) if full else 0)
    return [*rows, *(Row(FIRST[k] if many and k < len(FIRST) else "") for k in range(len(rows), len(rows) + room))]


def _decimals(error: float) -> int:
    """Decimals of a value with this standard uncertainty, which is told in two figures."""
    from nestwright.wording.sensors import decimals_of

    return decimals_of(error / 2, "")


def _give(value: float, error: float, channel: Channel, show: Shown) -> str:
    """A value in the channel's unit with its standard uncertainty."""
    if channel.unit == "degC":
        shown = show.temperature(value, _decimals(error))
        return f"{shown} ± {show.difference(error, _decimals(error)).lstrip('+')}"
    return f"{show.decimal(value, _decimals(error))} ± {show.number(error)} {channel.unit}"


def _added(value: float, decimals: int, channel: Channel, show: Shown) -> str:
    if channel.unit == "degC":
        return show.difference(value, decimals)
    return show.decimal(value, decimals, sign=True)


def _level_row(level: Level, channel: Channel, show: Shown) -> dict[str, Any]:
    decimals = _decimals(level.error)
    added = _added(level.add, decimals, channel, show)
    return {
        "read": show.reading(level.read, channel.unit, decimals),
        "add": added if channel.unit == "degC" else f"{added} {channel.unit}",
        "true": _give(level.true, level.error, channel, show),
        "beyond": level.beyond,
    }


def _curve_points(made: Calibration, channel: Channel, scale: Scale, show: Shown) -> list[dict[str, Any]]:
    """The points of a curve: what is true there, what was read, and what the curve leaves over."""
    rows = []
    for point, residual in zip(made.points, made.residuals, strict=True):
        errors = [float(scale.spread(x)) for x in (point.reference_error, point.raw_error)]
        true, read = (float(scale.shown(x)) for x in (point.reference, point.raw))
        left = float(scale.spread(residual))
        decimals = _decimals(max(errors))
        over = _added(left, decimals, channel, show)
        rows.append(
            {
                "label": point.label,
                "warm": None if point.temperature is None else point.temperature - 273.15,
                "true": _give(true, errors[0], channel, show),
                "read": _give(read, errors[1], channel, show),
                "left": over,
            }
        )
    return rows


def _references(scale: Scale) -> list[tuple[str, str]]:
    """What a sensor may be held against: (value, words), the driest salt first."""
    if scale.quantity != "relative_humidity":
        return [(OTHERS[scale.quantity], OTHERS[scale.quantity])]
    return [
        (salt, f"{salt}, {100 * float(salts.relative_humidity(salt, AT)):.0f} %, {known[0]}")
        for salt, known in salts.names().items()
    ]


def _tried(
    connection: Connection, workshop: Workshop, logger: str, channel: str, rows: list[Row], warm: str
) -> tuple[Channel, Scale, Tried | None]:
    """The points as they stand by now; None where no reference is told."""
    one = find_channel(connection, f"{logger}.{channel}")
    scale, at = scale_wanted(one), now()
    stands = [_standing(row, scale, workshop, at) for row in rows if row.since]
    if not stands:
        return one, scale, None
    apart(stands, "reference")
    beside = beside_of(connection, warm, one, "warm") if scale.quantity == "relative_humidity" else None
    return one, scale, try_points(connection, one, scale, stands, beside, at, workshop.zone)


def _standing(row: Row, scale: Scale, workshop: Workshop, at: int) -> Standing:
    today = datetime.fromtimestamp(at / 1000, workshop.zone).strftime("%Y-%m-%d %H:%M:%S")
    since, until = row.since.replace("T", " "), row.until.replace("T", " ") or today
    if since > today:
        raise InputError("begins in the future", field="since", found=since, allowed="a moment up to now")
    if until <= since:
        raise InputError("ends before it begins", field="until", found=until, allowed=f"a moment after {since}")
    told = row.reference or OTHERS.get(scale.quantity, "")
    return standing_of(f"{told} {row.since} to {until}", scale.quantity, workshop.zone, "reference")


def _point(
    connection: Connection,
    one: Channel,
    standing: Standing,
    found: AtReference | None,
    fault: InputError | None,
    row: Row,
) -> dict[str, Any]:
    """A point in words, with the line of its readings, and what to do while it is not at rest."""
    from nestwright.wording.sensors import advice

    series = read_raw(connection, one.id, standing.begin, standing.end)
    few = np.unique(np.linspace(0, len(series.at) - 1, min(POINTS, len(series.at))).round().astype(int))
    ready = found is not None and found.point is not None
    return {
        "standing": standing,
        "ready": ready,
        "refused": found is None,
        "point": found.point if found else None,
        "reason": found.reason if found else fault.message if fault else "",
        "advice": advice(found) if found is not None and not ready else fault.allowed if fault else "",
        "rest": found.begin_of_rest if found else None,
        "readings": len(series.at),
        "last": int(series.at[-1]) if len(series.at) else None,
        "now": float(series.value[-1]) if len(series.at) else None,
        "line": curve(series.at[few], series.value[few], standing.begin, standing.end),
        "open": not row.until,
        "here": f"from={standing.begin}&to={standing.end}",
    }
