"""Recognise how a logger's file is written; every decision with its reason and how sure it is."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

from nestwright.errors import InputError
from nestwright.sensing.loggers.channels import columns_of
from nestwright.sensing.loggers.dates import ORDERS, dates_in, kind_of, order_of
from nestwright.sensing.loggers.mapping import Decision, Mapping
from nestwright.sensing.loggers.sample import Sample, sample_of
from nestwright.sensing.loggers.stream import pieces_of
from nestwright.sensing.loggers.table import cells_of, table_of
from nestwright.sensing.loggers.words import words
from nestwright.sensing.loggers.zones import check_zone

__all__ = ["recognise"]

_TOLD = re.compile(r"(?:Z|UTC|GMT|[+-]\d\d:?\d\d)$")
_ZONE = re.compile(r"\b(?:UTC|GMT)(?:\s*[+-]\s*\d{1,2}(?::?\d{2})?)?(?!\w)|\b[A-Z][A-Za-z]+/[A-Z][A-Za-z_]+\b")
_DIFFERENT_DATES = 100_000


def recognise(path: str | Path, zone: str | None = None) -> Mapping:
    """How a logger's CSV is written.

    Parameters
    ----------
    path : str or Path
        Text in any usual encoding, perhaps packed with gzip.
    zone : str, optional
        Time zone of the logger's clock, an IANA name, "UTC" or "UTC+01:00"; a zone that the file itself tells
        outranks it. Without either the zone is asked.

    Returns
    -------
    Mapping
        `mapping.decisions` tells what was decided and why, `mapping.asked` what needs an answer.

    Raises
    ------
    InputError
        When nothing in the file looks like readings, or the zone is not known.
    """
    if zone:
        check_zone(zone)
    sample = sample_of(path)
    layout = sample.layout
    _refuse_bare_commas(sample, str(path))
    made: list[Decision] = [Decision("encoding", *sample.encoding)]
    made.append(
        Decision(
            "separator",
            layout.separator,
            f"it divides {100 * layout.share:.0f} % of the lines into {len(layout.rows[0])} cells",
            "sure" if layout.share > 0.8 else "likely",
        )
    )
    made.append(_header_decision(sample))
    time_at, form, decisions = _time_columns(sample, str(path))
    made += decisions
    made += _shared_instants(sample, time_at)
    order = ""
    if form == "date":
        decision = _order(path, sample, time_at)
        order = decision.value
        made.append(decision)
        made.append(_clock(sample, time_at))
    decision = _zone(sample, time_at, form, zone)
    made.append(decision)
    decimal, thousands, decisions = _marks(sample, time_at)
    made += decisions
    columns, decisions = columns_of(sample, time_at, decimal, thousands)
    if not columns:
        raise InputError("no column of numbers was found beside the time", file=str(path), line=layout.first_at + 1)
    return Mapping(
        encoding=sample.encoding[0],
        separator=layout.separator,
        decimal=decimal,
        thousands=thousands,
        header_line=layout.header_at + 1,
        first_line=(layout.header_at + 2 + bool(layout.units)) if layout.header_at >= 0 else layout.first_at + 1,
        header=layout.header,
        time_at=time_at,
        form=form,
        order=order,
        zone=decision.value,
        columns=columns,
        decisions=(*made, *decisions),
    )


def _header_decision(sample: Sample) -> Decision:
    layout = sample.layout
    if layout.header_at < 0:
        return Decision("header", "none", "no line above the readings has a name for each column", "asked")
    shown = f"line {layout.header_at + 1}"
    if layout.known:
        return Decision("header", shown, f"{layout.known} of its cells are known names of columns", "sure")
    return Decision("header", shown, "it stands right above the readings and has as many cells", "likely")


def _refuse_bare_commas(sample: Sample, file: str) -> None:
    """20,5 in a file that commas divide makes two cells of one value: nothing can put them together again."""
    layout = sample.layout
    if layout.separator != "comma" or layout.header_at >= 0:
        return
    width = len(layout.rows[0])
    for at in range(layout.first_at - 1, max(-1, layout.first_at - 4), -1):
        cells = cells_of(sample.lines[at], "comma")
        values = sum(words().quantity_of(c) not in ("", "time", "index") for c in cells)
        if values and width == len(cells) + values and not any("." in c for row in layout.rows for c in row[1:]):
            raise InputError(
                "its numbers seem to have a decimal comma, and commas divide its cells too", file=file,
                line=layout.first_at + 1, found=sample.lines[layout.first_at][:80],
                allowed="numbers in quote marks, a decimal point, or semicolons between the cells",
            )  # fmt: skip


def _shared_instants(sample: Sample, time_at: tuple[int, ...]) -> list[Decision]:
    times = [" ".join(row[at] for at in time_at) for row in sample.layout.rows[:200]]
    again = len(times) - len(set(times))
    if again * 5 < len(times) or len(times) < 3:
        return []
    reason = (
        f"{again} of {len(times)} rows have the instant of another: several sensors in one file, or too coarse a time"
    )
    return [Decision("instants", "the last row of an instant is kept", reason, "asked")]


def _time_columns(sample: Sample, file: str) -> tuple[tuple[int, ...], str, list[Decision]]:
    header = sample.layout.header
    kinds: dict[int, str] = {}
    for at in range(len(sample.layout.rows[0])):
        cells = sample.column(at)
        if cells:
            kind, count = Counter(kind_of(c) for c in cells).most_common(1)[0]
            if kind and count >= 0.6 * len(cells):
                kinds[at] = kind

    def name(at: int) -> str:
        return header[at] if at < len(header) and header[at] else f"column {at + 1}"

    def rank(at: int) -> tuple[bool, bool, int]:
        spoken = words().time_word(name(at))
        return (not spoken, not re.search(r"\b(UTC|GMT)\b", name(at)), at)

    whole = sorted((at for at, kind in kinds.items() if kind == "instant"), key=rank)
    told = [at for at in whole if sum(bool(_TOLD.search(c)) for c in sample.column(at)) > 0.9 * len(sample.column(at))]
    told = told or [at for at in whole if re.search(r"\b(UTC|GMT)\b", name(at))]
    epochs = sorted((at for at, kind in kinds.items() if kind.startswith("epoch")), key=rank)
    dates, clocks, serials = (
        sorted((at for at, kind in kinds.items() if kind == want), key=rank) for want in ("date", "clock", "serial")
    )
    if told or epochs or whole:
        at = (told or epochs or whole)[0]
        form = kinds[at] if kinds[at] != "instant" else "date"
        said = {"date": "its cells are dates with a time", "epoch s": "its cells are seconds since 1970"}
        reason = said.get(form, "its cells are milliseconds since 1970")
        sure = words().time_word(name(at)) or form == "date"
        found: tuple[int, ...] = (at,)
    elif dates and clocks:
        clock = min(clocks, key=lambda c: (abs(c - dates[0] - 1), c))
        found, form, reason, sure = (dates[0], clock), "date", "one column has dates, the other times of day", True
    elif serials:
        found, form, sure = (serials[0],), "serial", words().time_word(name(serials[0]))
        reason = "its cells count days as spreadsheets do (45000 is 15 March 2023)"
    elif dates:
        found, form, reason, sure = (
            (dates[0],),
            "date",
            "its cells are dates; without a time of day midnight is taken",
            False,
        )
    else:
        raise InputError(
            "no column of dates was found" + (", only times of day" if clocks else ""), file=file,
            line=sample.layout.first_at + 1, allowed="a column with date and time, or one of each",
        )  # fmt: skip
    halves = [at for at in range(len(sample.layout.rows[0])) if at not in found and _halves(sample.column(at))]
    found = (*found, *halves[:1]) if form == "date" else found
    shown = " and ".join(name(at) for at in found)
    made = [Decision("time", shown, reason, "sure" if sure else "likely")]
    made += [
        Decision(name(at), "left out", "a further column of times", "sure") for at in sorted(kinds) if at not in found
        and not (kinds[at] == "serial" and words().quantity_of(name(at)) not in ("", "time"))
        and not (kinds[at].startswith("epoch") and words().quantity_of(name(at)) not in ("", "time"))
    ]  # fmt: skip
    return found, form, made


def _halves(cells: list[str]) -> bool:
    return bool(cells) and sum(bool(re.fullmatch(r"[AaPp]\.?[Mm]\.?", c)) for c in cells) > 0.9 * len(cells)


def _order(path: str | Path, sample: Sample, time_at: tuple[int, ...]) -> Decision:
    import polars as pl

    twelve = _clock(sample, time_at).value == "12 h"
    dates = dates_in(pl.Series(sample.column(time_at[0]), dtype=pl.String))
    order, reason, confidence = order_of(dates, twelve)
    if confidence != "sure":  # the sample does not tell: all the file's dates
        seen: dict[str, None] = {}
        for piece in pieces_of(path, sample.encoding[0]):
            table = table_of(piece.data, sample.layout.separator, time_at[0] + 1)
            seen |= dict.fromkeys(dates_in(table[:, time_at[0]]))
            if len(seen) > _DIFFERENT_DATES:
                break
        # A spoilt row must not outvote the rest: what is no date in any order says nothing.
        order, reason, confidence = order_of([d for d in seen if kind_of(d)], twelve)
    return Decision("order", order, f"{ORDERS[order]}: {reason}" if dates else reason, confidence)


def _clock(sample: Sample, time_at: tuple[int, ...]) -> Decision:
    cells = sample.column(time_at[-1])
    if any(re.search(r"(?:\d\s*|^)[AaPp]\.?\s?[Mm]", c) for c in cells):
        return Decision("clock", "12 h", "the times carry am and pm", "sure")
    hours = [int(m[1]) for c in cells for m in [re.search(r"(?:^|[T ,])(\d{1,2}):\d\d", c)] if m]
    if any(h > 12 for h in hours):
        return Decision("clock", "24 h", "hours beyond 12 occur", "sure")
    return Decision("clock", "24 h", "no am or pm is written", "likely")


def _zone(sample: Sample, time_at: tuple[int, ...], form: str, zone: str | None) -> Decision:
    if form.startswith("epoch"):
        return Decision("zone", "UTC", "seconds since 1970 count in UTC", "sure")
    cells = sample.column(time_at[-1])
    if cells and sum(bool(_TOLD.search(c)) for c in cells) > 0.9 * len(cells):
        return Decision("zone", "told", "every time tells its offset from UTC", "sure")
    names = [sample.layout.header[at] for at in time_at if at < len(sample.layout.header)]
    for text in names:
        found = _zone_in(text)
        if found:
            return Decision("zone", found, f"the header says so: {text!r}", "sure")
    if zone:
        return Decision("zone", zone, "as you said", "sure")
    for line in sample.lines[: max(sample.layout.header_at, 0)]:
        found = _zone_in(line) if re.search(r"zone|utc|gmt|zeit|fuseau|huso|fuso|tijd|czas", line, re.I) else ""
        if found:
            return Decision("zone", found, f"a line above the header says so: {line.strip()[:60]!r}", "likely")
    return Decision("zone", "", "the file does not tell the time zone of its clock", "asked")


def _zone_in(text: str) -> str:
    match = _ZONE.search(text)
    if match is None:
        return ""
    try:
        return check_zone(re.sub(r"\s", "", match[0]))
    except InputError:
        return ""


def _marks(sample: Sample, time_at: tuple[int, ...]) -> tuple[str, str, list[Decision]]:
    votes: Counter[tuple[str, str]] = Counter()
    either = ""
    for row in sample.rows:
        for at, cell in enumerate(row):
            if at in time_at or not (match := re.match(r"[+\-\u2212]?(\d[\d.,' \u2019\u00a0\u202f]*)", cell)):
                continue
            digits = match[1].strip().replace("\u2019", "'").replace("\u00a0", " ").replace("\u202f", " ")
            group = next((m for m in "' " if re.search(rf"\d{m}\d{{3}}(?!\d)", digits)), "")
            digits = digits.replace("'", "").replace(" ", "")
            marks = re.findall(r"[.,]", digits)
            if len(set(marks)) == 2 and marks.count(marks[-1]) == 1:
                votes[marks[-1], marks[0]] += 1
            elif len(marks) > 1 and len(set(marks)) == 1:
                votes["," if marks[0] == "." else ".", marks[0]] += 1
            elif len(marks) == 1 and not re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", digits):
                votes[marks[0], group] += 1
            elif len(marks) == 1:
                either = either or cell
            elif group:
                votes["", group] += 1
    said = {m: sum(n for (d, _), n in votes.items() if d == m) for m in ".,"}
    if said["."] or said[","]:
        decimal = "," if said[","] > said["."] else "."
        sure = "sure" if min(said.values()) * 20 < max(said.values()) else "likely"
        reason = f"{said[decimal]} numbers of the sample are written so"
    elif either:
        decimal = "," if "," in either else "."
        sure = "likely" if decimal == "." or sample.layout.separator != "comma" else "asked"
        reason = f"{either!r} is read as a decimal number, not as thousands"
    else:
        decimal, sure, reason = ".", "likely", "the numbers of the sample are whole"
    groups = Counter({g: n for (d, g), n in votes.items() if g and d in ("", decimal) for n in [n]})
    thousands = groups.most_common(1)[0][0] if groups else ""
    if not thousands and either and (decimal == ",") != ("," in either):
        thousands = "," if "," in either else "."  # 20.5 and 1,013 in one file
    names = {".": "point", ",": "comma"}
    made = [Decision("decimal", decimal, f"decimal {names[decimal]}: {reason}", sure)]
    if thousands:
        made.append(Decision("thousands", thousands, "numbers have it between groups of three figures", "likely"))
    return decimal, thousands, made
