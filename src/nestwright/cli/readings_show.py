"""How a channel's course and its time in a band are shown: tables, files, JSON, a picture."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright.errors import InputError
from nestwright.wording.sensors import decimals_of

if TYPE_CHECKING:
    from nestwright.sensing.in_band import TimeInBand
    from nestwright.workshop.course import Course
    from nestwright.workshop.folder import Workshop
    from nestwright.workshop.readings import Channel

__all__ = ["band_json", "course_json", "draw_course", "level_of", "shown_band", "shown_course", "span_of"]

KINDS = {"temperature": "temperature", "dew_point": "temperature", "humidity": "share", "co2": "share"}
AREA = {"degC": "K h", "K": "K h", "%": "% h", "ppm": "ppm h"}
GAPS_SHOWN = 10
WEEK = 7
"""Days that are shown where no span is told."""


def level_of(text: str | None, channel: Channel, field: str) -> float | None:
    """A value of an option in the channel's unit, as "24 degC" or "90 %"; None for none. Raises InputError."""
    from nestwright.cli.record import checked
    from nestwright.units import parse_quantity
    from nestwright.workshop.sensors import scale_of

    if text is None:
        return None
    scale, kind = scale_of(channel), KINDS.get(channel.quantity)
    if scale is not None and kind is not None:
        return float(scale.shown(checked(lambda t: parse_quantity(t, kind), text, field)))
    number, _, unit = text.strip().partition(" ")
    try:
        if unit.strip() not in ("", channel.unit):
            raise ValueError
        return float(number)
    except ValueError:
        allowed = f"a number in {channel.unit or 'the unit of the channel'}"
        raise InputError("cannot be read", field=field, found=repr(text), allowed=allowed) from None


def span_of(
    workshop: Workshop, first: int, last: int, low: str | None, high: str | None, usual: int | None = WEEK
) -> tuple[int, int]:
    """From when to when, UTC ms: as told, else the last `usual` days of the readings, or all. Raises InputError."""
    from nestwright.workshop.moments import DAY, moment_of

    end = moment_of(high, workshop.zone, "--to", end=True) if high else last + 1
    begin = first if usual is None else max(first, end - usual * DAY)
    begin = moment_of(low, workshop.zone, "--from") if low else begin
    if begin >= end:
        from nestwright.cli.record import moment

        raise InputError(
            "ends before it begins", field="--to", found=f"{moment(begin, workshop)} to {moment(end, workshop)}"
        )
    return begin, end


def shown_course(found: Course, workshop: Workshop) -> None:
    """Print a channel's course by day, or by reading where they are few, and its gaps."""
    import numpy as np

    from nestwright.cli.output import console, figure, plain, table
    from nestwright.cli.record import moment
    from nestwright.letters import count_of
    from nestwright.workshop.course import by_day

    out, channel = console(), found.channel
    name = f"{channel.logger}.{channel.name}"
    total = int(found.n.sum())
    out.print(
        plain(
            f"{name}, {channel.quantity}, {channel.unit}: {count_of(total, 'reading')} "
            f"from {moment(found.start, workshop)} to {moment(found.end, workshop)} ({workshop.zone.key})"
        ),
        soft_wrap=True,
    )
    error = float(np.median(found.error)) if total else float("nan")
    decimals = decimals_of(error, channel.unit)
    out.print(_trust(found, error), soft_wrap=True)
    if total and total <= 24 and found.by == "reading":
        rows = [
            [moment(int(t), workshop), figure(v, decimals), figure(e, decimals + 1, none="")]
            for t, v, e in zip(found.at, found.mean, found.error, strict=True)
        ]
        out.print(table(["time", channel.unit, "±"], rows))
    elif total:
        rows = [
            [d.day.isoformat(), f"{d.n:,}", f"{d.hours}", *(figure(v, decimals) for v in (d.low, d.mean, d.high))]
            for d in by_day(found, workshop.zone)
        ]
        out.print(table(["day", "readings", "hours", "least", "mean", "most"], rows))
    if found.gaps:
        hours = sum(b - a for a, b in found.gaps) / 3_600_000
        out.print(f"Not known: {figure(hours, 1)} h in {count_of(len(found.gaps), 'gap')}, the longest first:")
        longest = sorted(found.gaps, key=lambda g: g[0] - g[1])
        for a, b in longest[:GAPS_SHOWN]:
            out.print(f"  {moment(a, workshop)} to {moment(b, workshop)}, {figure((b - a) / 3_600_000, 1)} h")


def _trust(found: Course, error: float) -> str:
    import math

    from nestwright.cli.output import significant

    if math.isnan(error):
        return "As read."
    about = f"standard uncertainty {significant(error, 2)} {found.channel.unit}"
    if found.raw:
        return f"Raw, not corrected; {about} of a sensor as sold (judgement)."
    if not found.calibrations:
        return f"Never calibrated: raw values; {about} of a sensor as sold (judgement)."
    many = "calibration" if found.calibrations == 1 else "calibrations"
    return f"Corrected by {found.calibrations} {many}; {about}."


def course_json(found: Course, workshop: Workshop) -> dict[str, Any]:
    """A course as data; times on the workshop's clock with their offset."""
    return {
        "channel": found.channel.to_dict(),
        "zone": workshop.zone.key,
        "from": _iso(found.start, workshop),
        "to": _iso(found.end, workshop),
        "by": found.by,
        "calibrations": found.calibrations,
        "raw": found.raw,
        "readings": int(found.n.sum()),
        "time": [_iso(int(t), workshop) for t in found.at],
        "n": found.n.tolist(),
        "low": found.low.tolist(),
        "mean": found.mean.tolist(),
        "high": found.high.tolist(),
        "error": found.error.tolist(),
        "gaps": [[_iso(a, workshop), _iso(b, workshop)] for a, b in found.gaps],
    }


def _iso(at: int, workshop: Workshop) -> str:
    from datetime import datetime

    return datetime.fromtimestamp(at / 1000, workshop.zone).isoformat(timespec="seconds")


def write_course(path: Path, found: Course, workshop: Workshop) -> None:
    """Write a course as CSV: a row a reading or an hour. Raises InputError."""
    from nestwright.files import write_whole

    unit = found.channel.unit
    head = "time,n,low,mean,high,standard_uncertainty" if found.by == "hour" else "time,value,standard_uncertainty"
    lines = [f"# {found.channel.logger}.{found.channel.name}, {unit}, {workshop.zone.key}", head]
    for t, n, low, mean, high, error in zip(
        found.at.tolist(), found.n.tolist(), found.low, found.mean, found.high, found.error, strict=True
    ):
        told = "" if error != error else f"{error:.2g}"
        middle = f"{n},{low:.6g},{mean:.6g},{high:.6g}" if found.by == "hour" else f"{mean:.6g}"
        lines.append(f"{_iso(t, workshop)},{middle},{told}")
    write_whole(path, "\n".join(lines) + "\n")


def draw_course(
    path: Path, found: Course, workshop: Workshop, limits: tuple[float | None, float | None] = (None, None)
) -> None:
    """Draw a course. Raises InputError for a place that cannot be written."""
    from datetime import date, timedelta

    import numpy as np

    from nestwright.charts.readings import Drawn, readings_chart
    from nestwright.cli.pictures import write_picture
    from nestwright.workshop.moments import DAY, local_ms

    middle = found.at + (1_800_000 if found.by == "hour" else 0)
    ends = np.array([found.start, found.end, *(t for g in found.gaps for t in g)], dtype=np.int64)
    local = local_ms(np.concatenate([ends, middle]), workshop.zone)
    start = int(local[0]) // DAY
    days = (local - start * DAY) / DAY
    edges, at = days[: len(ends)], days[len(ends) :]
    order = np.argsort(at, kind="stable")  # the hour that autumn repeats lies over itself
    channel = found.channel
    drawn = Drawn(
        title=f"{channel.logger}: {channel.name}",
        unit={"degC": "°C", "%": "% RH" if channel.quantity == "humidity" else "%"}.get(channel.unit, channel.unit),
        start=date(1970, 1, 1) + timedelta(days=start),
        first=float(edges[0]),
        last=float(edges[1]),
        day=at[order],
        low=found.low[order],
        mean=found.mean[order],
        high=found.high[order],
        error=found.error,
        gaps=tuple((float(a), float(b)) for a, b in zip(edges[2::2], edges[3::2], strict=True)),
        limits=limits,
        lines=("Line: mean of each hour; band: least to most." if found.by == "hour" else "Line: readings.",),
    )
    write_picture(readings_chart(drawn), path)


def band_json(found: TimeInBand, channel: Channel, workshop: Workshop, more: dict[str, Any]) -> dict[str, Any]:
    """Time in a band as data, with times on the workshop's clock."""
    told = found.to_dict()
    for one in [*told["episodes"], *([told["longest"]] if told["longest"] else [])]:
        one["start"], one["end"] = (_iso(int(one[k] * 1000), workshop) for k in ("start", "end"))
    return {"channel": channel.to_dict(), **more, **told}


def shown_band(found: TimeInBand, channel: Channel, workshop: Workshop, more: dict[str, Any]) -> None:
    """Print hours inside and beyond a band with their ranges, areas, and the worst spells."""
    from nestwright.cli.output import console, figure, plain, table
    from nestwright.cli.record import moment

    out, unit = console(), channel.unit
    limits = [f"at least {found.low:g}" if found.low is not None else ""]
    limits += [f"at most {found.high:g}" if found.high is not None else ""]
    name = f"{channel.logger}.{channel.name}"
    out.print(
        plain(f"{name}: {' and '.join(x for x in limits if x)} {unit}, {more['from']} to {more['to']}"), soft_wrap=True
    )
    if more.get("limits_of"):
        out.print(
            plain(f"Limits of {more['limits_of']}: {more['limits_source']} ({more['limits_mark']})"), soft_wrap=True
        )
    out.print(plain(str(more["trust"])), soft_wrap=True)
    rows = [["inside", *_hours(found.inside, found.inside_range, found.hours)]]
    if found.high is not None:
        rows.append(["above", *_hours(found.above, found.above_range, found.hours)])
    if found.low is not None:
        rows.append(["below", *_hours(found.below, found.below_range, found.hours)])
    rows.append(["not known", f"{figure(found.unknown, 1)} h", "", _share(found.unknown, found.hours)])
    out.print(table(["", "hours", "8 in 10", "of the span"], rows))
    if found.unknown:
        low, high = found.inside_bounds
        out.print(
            f"What is not known counts as neither: inside {_share(low, found.hours)} of the span at the least, "
            f"{_share(high, found.hours)} at the most. The longest gap: {figure(found.longest_gap, 1)} h.",
            soft_wrap=True,
        )
    area = AREA.get(unit, f"{unit} h")
    for word, limit, value, spread in (
        ("above", found.high, found.excess, found.excess_range),
        ("below", found.low, found.deficit, found.deficit_range),
    ):
        if limit is not None:
            out.print(f"Summed {word}: {_few(value)} {area} (8 in 10: {_few(spread[0])} to {_few(spread[2])}).")
    if "wet_hours" in more:
        low, _, high = more["wet_range"]
        out.print(
            f"Wet, {more['wet_at']:g} % RH or more: {figure(more['wet_hours'], 1)} h (8 in 10: {figure(low, 1)} to "
            f"{figure(high, 1)} h).",
            soft_wrap=True,
        )
    if found.episodes:
        spells = "1 spell" if found.episode_count == 1 else f"{found.episode_count} spells"
        out.print(f"\n{spells} beyond the band, the worst first:")
        rows = [
            [
                moment(int(e.start * 1000), workshop), moment(int(e.end * 1000), workshop), e.side, figure(e.hours, 1),
                _few(e.depth), _few(e.area), "may be longer: a gap" if e.cut_start or e.cut_end else "",
            ]
            for e in found.episodes
        ]  # fmt: skip
        head = ["from", "to", "", "hours", f"furthest, {'K' if unit == 'degC' else unit}", area, ""]
        out.print(table(head, rows, left=(0, 1, 2, 6)))


def _hours(value: float, spread: tuple[float, float, float], whole: float) -> list[str]:
    from nestwright.cli.output import figure

    return [f"{figure(value, 1)} h", f"{figure(spread[0], 1)} to {figure(spread[2], 1)} h", _share(value, whole)]


def _share(part: float, whole: float) -> str:
    from nestwright.cli.output import share_text

    return share_text(100 * part / whole) if whole else ""


def _few(value: float) -> str:
    from nestwright.cli.output import significant

    return significant(value, 2)
