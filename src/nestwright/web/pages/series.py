"""Series: channels over any span, moved and zoomed; their points as data; hours in the band that holds there."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, HTTPException, Query, Request
from sqlalchemy import Connection
from starlette.responses import JSONResponse, Response

from nestwright.errors import InputError
from nestwright.web.climate_year import begin as begin_work
from nestwright.web.climate_year import found as all_there
from nestwright.web.habitat_files import room_names
from nestwright.web.jobs import Job
from nestwright.web.named import Named, step
from nestwright.web.render import page, shown_for, workshop_at
from nestwright.web.sensor_rows import full_name, name_of, place_words, unit_of
from nestwright.web.sentences import retold
from nestwright.web.series_predicted import IN_MEASURED_ROOM, build_at, keys_of, predicted, wanted
from nestwright.web.shown import Shown
from nestwright.workshop.band import BandOfChannel, band_of
from nestwright.workshop.builds import Made
from nestwright.workshop.changes import now
from nestwright.workshop.course import DayRow, by_day, course
from nestwright.workshop.database import reading
from nestwright.workshop.folder import Workshop
from nestwright.workshop.look_sensors import bands_at
from nestwright.workshop.moments import DAY, moment_of
from nestwright.workshop.placements import Placement, placements
from nestwright.workshop.readings import Channel, channels_of, find_channel, read_hours, span_of
from nestwright.workshop.sensors import scale_of
from nestwright.workshop.traces import trace

router = APIRouter()
MOST = 4
"""Channels in one picture: more lines cannot be told apart."""
USUAL = 7
"""Days that are shown where no span is told."""
AT_ONCE = 20_000
"""Readings of which hours are counted while the page is awaited; more are long work."""
DAYS = 62
"""Days that are told in a table."""

Channels = Annotated[list[str] | None, Query()]
From = Annotated[str, Query(alias="from", max_length=40)]
To = Annotated[str, Query(alias="to", max_length=40)]
Since = Annotated[int, Query(alias="from", ge=-(10**14), le=10**14)]
Until = Annotated[int, Query(alias="to", ge=-(10**14), le=10**14)]
Width = Annotated[int, Query(ge=2, le=100_000)]
Predict = Annotated[str, Query(max_length=80)]


@dataclass(frozen=True)
class Line:
    """A channel in the picture: its span and number of readings, where it stands, the band that holds there.

    `build` in a chamber of which it stands, None for none; `predicted` keys of the run that is drawn beside it."""

    channel: Channel
    first: int
    last: int
    count: int
    where: str
    band: tuple[float | None, float | None]
    chamber: str = ""
    build: Made | None = None
    predicted: tuple[str, str] = ("", "")

    @property
    def name(self) -> str:
        return full_name(self.channel)


def _lines(connection: Connection, workshop: Workshop, names: list[str]) -> list[Line]:
    at = now()
    stands: dict[str, Placement] = {
        p.logger: p for p in placements(connection) if p.since <= at and (p.until is None or at < p.until)
    }
    made = []
    for name in dict.fromkeys(names[: 4 * MOST]):
        one = find_channel(connection, name)
        place, scale = stands.get(one.logger), scale_of(one)
        ends: tuple[float | None, float | None] = (None, None)
        if place is not None and scale is not None and place.chamber:
            low, high = bands_at(connection, workshop.folder, place, scale.quantity)
            ends = tuple(None if x is None else round(float(scale.shown(x)), 9) for x in (low, high))  # type: ignore[assignment]
        chamber = place.chamber if place is not None else ""
        made.append(
            Line(one, *span_of(connection, one.id), place_words(place), ends, chamber,
                 build_at(connection, one, place, _typed(at, workshop)))
        )  # fmt: skip
    return made[:MOST]


def _moment(text: str, workshop: Workshop, field: str, usual: int, *, end: bool = False) -> int:
    """A moment as a person types it, or UTC ms as a page tells it."""
    told = text.strip()
    if not told:
        return usual
    if told.isascii() and told.isdecimal() and 9 <= len(told) < 15:
        return int(told)
    return moment_of(told, workshop.zone, field, end=end)


def _span(lines: list[Line], workshop: Workshop, low: str, high: str) -> tuple[int, int]:
    """From when to when, UTC ms: as told, else the last days of readings. Raises InputError."""
    there = [one for one in lines if one.count]
    last = max((one.last + 1 for one in there), default=now())
    end = _moment(high, workshop, "to", last, end=True)
    begin = _moment(low, workshop, "from", end - USUAL * DAY)
    if begin >= end:
        raise InputError("ends before it begins", field="to", found=f"{low or begin} to {high or end}")
    return begin, end


@router.get("/series")
def series(
    request: Request, channel: Channels = None, low: From = "", high: To = "", predict: Predict = ""
) -> Response:
    """The picture of channels over a span, with what is told of that span in words; `predict` names the room in which
    what was predicted is set beside it, or "measured"."""
    workshop, show = workshop_at(request), shown_for(request)
    with reading(workshop.engine) as connection:
        every = channels_of(connection)
        names = channel or [full_name(one) for one in every[:1]]
        lines = _lines(connection, workshop, names)
        begin, end = _span(lines, workshop, low, high)
        # what long work found is shown; else the count is offered
        words = [_words(request, connection, one, begin, end) for one in lines]
    lines, job, fault = _predicted_beside(request, lines, predict.strip(), begin, end)
    told = [
        {
            "name": one.name,
            "what": name_of(one.channel),
            "unit": one.channel.unit,
            "where": retold(one.where, show),
            "band": list(one.band),
            "first": one.first,
            "last": one.last,
            "predicted": [*one.predicted, one.chamber] if one.predicted[0] else None,
        }
        for one in lines
    ]
    return page(
        request, "series.html", every=[full_name(one) for one in every], lines=lines, told=told, begin=begin, end=end,
        zone=workshop.zone.key, words=words, from_day=_typed(begin, workshop), to_day=_typed(end - 1, workshop),
        fahrenheit=show.choice.temperature == "degF", most=MOST, job=job, fault=fault, predict=predict.strip(),
        rooms=room_names(workshop), measured_room=IN_MEASURED_ROOM,
    )  # fmt: skip


def _predicted_beside(
    request: Request, lines: list[Line], room: str, begin: int, end: int
) -> tuple[list[Line], Job | None, str]:
    """The lines with the run of each where it is finished, the first work that is not, and what stands against it."""
    if not room:
        return lines, None, ""
    workshop, jobs = workshop_at(request), request.app.state.jobs
    back = f"{_address(lines, begin, end)}&predict={step(room)}"
    made: list[Line] = []
    waits: Job | None = None
    fault = ""
    for one in lines:
        try:
            told = None if one.build is None else wanted(workshop, one.build, room)
        except InputError as problem:
            told, fault = None, str(problem)
        if told is None:
            fault = fault or ("its room was not measured" if one.build is not None else "")
        elif all_there(told) is not None:
            one = replace(one, predicted=keys_of(told))
        elif waits is None:
            waits = begin_work(jobs, told, back=back)
        made.append(one)
    return made, waits, fault


def _typed(at: int, workshop: Workshop) -> str:
    return datetime.fromtimestamp(at / 1000, workshop.zone).date().isoformat()


@router.get("/api/series/{channel}")
def points(
    request: Request,
    channel: Named,
    low: Since,
    high: Until,
    width: Width = 1000,
) -> Response:
    """A channel's points: corrected, at most about `width`, in UTC ms and its own unit."""
    if low >= high:
        raise InputError("ends before it begins", field="to", found=f"{low} to {high}")
    with reading(workshop_at(request).engine) as connection:
        found = trace(connection, find_channel(connection, channel), low, high, width)
    return JSONResponse(found.to_dict())


@router.get("/api/series/{channel}/predicted")
def predicted_points(
    request: Request,
    channel: Named,
    run: Annotated[str, Query(max_length=80)],
    intervals: Annotated[str, Query(max_length=80)],
    chamber: Annotated[str, Query(max_length=200)],
    low: Since,
    high: Until,
    width: Width = 1000,
) -> Response:
    """What a finished run predicted where a channel stands, with its interval: as the channel's own points."""
    if low >= high:
        raise InputError("ends before it begins", field="to", found=f"{low} to {high}")
    workshop = workshop_at(request)
    with reading(workshop.engine) as connection:
        one = find_channel(connection, channel)
    found = predicted(workshop, one, chamber, (run, intervals), low, high, width)
    if found is None:
        raise HTTPException(404)
    return JSONResponse(found.to_dict())


@router.get("/series/words")
def words(request: Request, channel: Channels = None, low: From = "", high: To = "") -> Response:
    """What is told of a span in words: hours in the band and each day, as a piece of the page."""
    workshop = workshop_at(request)
    with reading(workshop.engine) as connection:
        lines = _lines(connection, workshop, channel or [])
        begin, end = _span(lines, workshop, low, high)
        told = [_words(request, connection, one, begin, end) for one in lines]
    return page(request, "series_words.html", words=told, begin=begin, end=end)


@router.post("/series/count")
def count(request: Request, channel: Channels = None, low: From = "", high: To = "") -> Response:
    """Begin to count the hours of a long span; the page shows them when they are counted."""
    from starlette.responses import RedirectResponse

    workshop = workshop_at(request)
    with reading(workshop.engine) as connection:
        lines = _lines(connection, workshop, channel or [])
        begin, end = _span(lines, workshop, low, high)
    back = _address(lines, begin, end)
    for one in lines:
        if _limited(one):
            work = partial(_counted, workshop, one, begin, end)
            request.app.state.jobs.start(_key(one, begin, end), f"Counting hours of {one.name}", back, work)
    return RedirectResponse(back, 303)


def _counted(workshop: Workshop, line: Line, begin: int, end: int, job: Job) -> BandOfChannel:
    job.report(0.1)
    with reading(workshop.engine) as connection:
        return band_of(connection, line.channel, *line.band, begin, end)


def _limited(line: Line) -> bool:
    return line.band != (None, None)


def _address(lines: list[Line], begin: int, end: int) -> str:
    return "/series?" + "&".join([*(f"channel={step(one.name)}" for one in lines), f"from={begin}&to={end}"])


def _key(line: Line, begin: int, end: int) -> str:
    return f"hours/{line.channel.id}/{line.count}/{line.last}/{line.band}/{begin}/{end}"


def _words(request: Request, connection: Connection, line: Line, begin: int, end: int) -> dict[str, Any]:
    """One channel over the span: its days, its hours in the band, or the work that counts them."""
    jobs, show = request.app.state.jobs, shown_for(request)
    made: dict[str, Any] = {
        "line": line, "what": name_of(line.channel), "band": _band_words(line, show), "hours": None, "job": None,
        "count": "", "again": "", "days": [], "more": 0, "fault": "", "unit": unit_of(line.channel, show),
    }  # fmt: skip
    try:
        n = int(read_hours(connection, line.channel.id, begin, end).n.sum())
        days = by_day(course(connection, line.channel, begin, end, by="hour"), workshop_at(request).zone) if n else []
        made["days"], made["more"] = _day_rows(days[-DAYS:], line.channel, show), max(0, len(days) - DAYS)
        if _limited(line):
            key = _key(line, begin, end)
            made["job"] = jobs.going(key)
            found = jobs.done(key)
            if found is None and n <= AT_ONCE:
                found = band_of(connection, line.channel, *line.band, begin, end)
            made["hours"] = found and _hours(found)
            span = _address([line], begin, end).partition("?")[2]
            made["count"], made["again"] = f"/series/count?{span}", f"/series/words?{span}"
    except InputError as problem:
        made["fault"] = str(problem)
    return made


def _band_words(line: Line, show: Shown) -> str:
    ends = [None if x is None else show.reading(x, line.channel.unit, 0 if x.is_integer() else 1) for x in line.band]
    low, high = ends
    return f"{low} – {high}" if low and high else f"at least {low}" if low else f"at most {high}" if high else ""


def _day_rows(days: list[DayRow], channel: Channel, show: Shown) -> list[dict[str, Any]]:
    return [
        {
            "day": show.day(one.day),
            "n": one.n,
            "hours": one.hours,
            "values": [show.reading(x, channel.unit) for x in (one.low, one.mean, one.high)],
        }
        for one in reversed(days)
    ]


def _hours(found: BandOfChannel) -> dict[str, Any]:
    """Hours by where the value was, with 8 in 10, and their share of the span."""
    told = found.hours
    rows = [("inside", told.inside, told.inside_range)]
    rows += [("above", told.above, told.above_range)] if told.high is not None else []
    rows += [("below", told.below, told.below_range)] if told.low is not None else []
    whole = told.hours or 1.0
    return {
        "rows": [(word, value, spread[0], spread[2], 100 * value / whole) for word, value, spread in rows],
        "unknown": (told.unknown, 100 * told.unknown / whole),
        "trust": found.trust,
        "wet": found.wet,
        "wet_at": found.wet_at,
    }
