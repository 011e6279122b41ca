"""Dates and times as loggers write them: one text, many texts of one form, and what order the numbers stand in."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["EARLIEST", "LATEST", "ORDERS", "Instants", "dates_in", "instant_of", "instants_of", "kind_of", "order_of"]

ORDERS = {"ymd": "year-month-day", "dmy": "day.month.year", "mdy": "month/day/year"}
DAY = 86_400_000
EARLIEST, LATEST = (int((date(y, 1, 1) - date(1970, 1, 1)).days) * DAY for y in (1990, 2100))
"""ms since 1970; an instant outside is no reading of a logger."""
_EXCEL = (date(1899, 12, 30) - date(1970, 1, 1)).days  # day 0 of spreadsheets, right from March 1900 on
_MONTHS = {
    name: 1 + k
    for k, names in enumerate(
        (
            "jan januar january janvier enero gennaio januari janeiro ene gen sty styczen",
            "feb februar february fevrier febrero febbraio februari fevereiro fev fevr luty lut",
            "mar marz maerz mrz march mars marzo maart marco mrt marzec",
            "apr april avril abril aprile abr avr kwi kwiecien",
            "may mai mayo maggio mei maio mag maj",
            "jun juni june juin junio giugno junho giu cze czerwiec",
            "jul juli july juillet julio luglio julho lug juil lip lipiec",
            "aug august aout agosto augustus ago sie sierpien",
            "sep sept september septembre septiembre settembre setembro set wrz wrzesien",
            "oct okt oktober october octobre octubre ottobre outubro ott out paz pazdziernik",
            "nov november novembre noviembre novembro lis listopad",
            "dec dez dezember december decembre diciembre dicembre dezembro dic gru grudzien",
        )
    )
    for name in names.split()
}
_DATE = (
    r"(?:(?P<y0>\d{4})(?P<m0>\d\d)(?P<d0>\d\d)"
    r"|(?P<n1>\d{1,4})(?P<sep>[./-])[ ]?(?P<n2>\d{1,2})(?P=sep)[ ]?(?P<n3>\d{4}|\d{1,2})"
    r"|(?P<d4>\d{1,2})[ .-]+(?P<b4>[^\W\d_]{3,})[ .,-]+(?P<y4>\d{4}|\d\d)"
    r"|(?P<b5>[^\W\d_]{3,})\.?[ -]+(?P<d5>\d{1,2}),?[ -]+(?P<y5>\d{4}))"
)
_CLOCK = (
    r"(?P<H>\d{1,2})(?P<c1>[:.h]|(?=\d{2}(?:\d\d)?(?!\d)))(?P<M>\d\d)"
    r"(?:(?:[:.m]|(?<=\d\d\d\d))(?P<S>\d\d)s?(?P<f>[.,]\d{1,9})?)?(?: ?(?P<p>[AaPp])\.? ?[Mm]\.?)?(?: ?(?:Uhr|h))?"
)
_OFFSET = r"(?: ?(?P<o>Z|(?:UTC|GMT)?[+-]\d\d:?\d\d|UTC|GMT))?"
_INSTANT = re.compile(rf"{_DATE}(?:(?P<j> ?[T,;/] ?| |-(?=\d\d:)){_CLOCK}{_OFFSET})?")
_CLOCK_ONLY = re.compile(_CLOCK + _OFFSET)
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")


def kind_of(text: str) -> str:
    """What a text may be: "instant", "date", "clock", "epoch s", "epoch ms", "serial", or ""."""
    text = " ".join(text.split())
    if not 3 <= len(text) <= 40 or not any(c.isdigit() for c in text):
        return ""
    if _NUMBER.fullmatch(text):
        number = float(text.replace(",", "."))
        whole = len(re.split("[.,]", text)[0])
        if whole == 10 and EARLIEST <= number * 1000 <= LATEST:
            return "epoch s"
        if whole == 13 and EARLIEST <= number <= LATEST:
            return "epoch ms"
        if whole == 5 and EARLIEST <= (number + _EXCEL) * DAY <= LATEST:
            return "serial"
        if whole == 14 and _INSTANT.fullmatch(f"{text[:8]} {text[8:]}"):
            return "instant"
    match = _INSTANT.fullmatch(text)
    if match:
        return "" if _day(match, "") is None else "instant" if match["H"] else "date"
    match = _CLOCK_ONLY.fullmatch(text)
    if match and (match["c1"] in (":", "h") or (match["c1"] and match["S"]) or match["p"]):
        return "" if _time(match) is None else "clock"
    return ""


def instant_of(text: str, order: str) -> tuple[int, int | None] | None:
    """Milliseconds of one date and time on its own clock since 1970, and its UTC offset in ms if it tells one.

    `order` is a key of ORDERS. None when the text is no date. A date without a clock time is its midnight.
    """
    text = " ".join(text.split())
    if len(text) == 14 and text.isdigit():
        text = f"{text[:8]} {text[8:]}"
    match = _INSTANT.fullmatch(text)
    if match is None:
        return None
    day = _day(match, order)
    clock = _time(match) if match["H"] else 0
    if day is None or clock is None:
        return None
    return day * DAY + clock, _offset(match["o"])


def _offset(text: str | None) -> int | None:
    if not text:
        return None
    match = re.search(r"([+-])(\d\d):?(\d\d)", text)
    if match is None:
        return 0
    return (-1 if match[1] == "-" else 1) * (int(match[2]) * 60 + int(match[3])) * 60_000


def _time(match: re.Match[str]) -> int | None:
    hour, minute, second = (int(match[k] or 0) for k in "HMS")
    if match["p"]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if match["p"] in "pP" else 0)
    # 24:00 is the end of its day (ISO 8601)
    if minute > 59 or second > 59 or hour > 24 or (hour == 24 and (minute or second)):
        return None
    ms = round(float("0." + match["f"][1:]) * 1000) if match["f"] else 0
    return ((hour * 60 + minute) * 60 + second) * 1000 + ms


def _day(match: re.Match[str], order: str) -> int | None:
    """Days since 1970; with `order` "" any order that gives a date will do."""
    if match["y0"]:
        tries = [(match["y0"], match["m0"], match["d0"])]
    elif match["n1"]:
        n = (match["n1"], match["n2"], match["n3"])
        if len(n[0]) > 2:
            tries = [n] if len(n[0]) == 4 and len(n[2]) <= 2 else []
        elif order == "ymd" and len(n[2]) <= 2:
            tries = [n]
        else:
            both = {"dmy": (n[2], n[1], n[0]), "mdy": (n[2], n[0], n[1])}
            tries = [both[order]] if order in both else [] if order else list(both.values())
    else:
        from nestwright.sensing.loggers.words import plain

        month = _MONTHS.get(plain(match["b4"] or match["b5"]))
        tries = [(match["y4"] or match["y5"], str(month), match["d4"] or match["d5"])] if month else []
    for y, m, d in tries:
        try:
            year = int(y)
            return (date(year + 2000 if len(y) <= 2 else year, int(m), int(d)) - date(1970, 1, 1)).days
        except ValueError:
            continue
    return None


@dataclass(frozen=True)
class Instants:
    """`local` int64 ms since 1970 on the file's own clock; `offset` int64 ms of UTC offset where a row tells it;
    `good`, `told` bool: which rows are instants, which tell their offset. All of shape (n,)."""

    local: NDArray[np.int64]
    offset: NDArray[np.int64]
    good: NDArray[np.bool_]
    told: NDArray[np.bool_]


def instants_of(texts: Any, form: str, order: str) -> Instants:
    """Instants of a polars series of texts; `form` is "date", "epoch s", "epoch ms" or "serial"."""
    import polars as pl

    n = len(texts)
    local, offset = np.zeros(n, np.int64), np.zeros(n, np.int64)
    good, told = np.zeros(n, np.bool_), np.zeros(n, np.bool_)
    if form != "date":
        number = texts.str.strip_chars().str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
        x = number.fill_null(np.nan).to_numpy()
        ms = x * {"epoch s": 1000.0, "epoch ms": 1.0, "serial": float(DAY)}[form]
        ms = ms + (_EXCEL * DAY if form == "serial" else 0)
        # a serial day with five decimals is good to a second; what a sheet wrote as 10:05:00 comes back as that
        ms = np.round(ms / 1000) * 1000 if form == "serial" else np.round(ms)
        with np.errstate(invalid="ignore"):
            good = (ms >= EARLIEST) & (ms < LATEST)
        local[good] = ms[good].astype(np.int64)
        if form != "serial":
            told |= good
        return Instants(local, offset, good, told)
    texts = _in_figures(texts)
    left = np.flatnonzero(texts.is_not_null().to_numpy())
    for _ in range(6):  # the forms that fill a file are few; the rest goes one by one
        if len(left) < 64:
            break
        rest = texts.gather(left) if len(left) < n else texts
        # the first that has a form: the very first may be a spoilt one
        fast = next((f for t in rest.head(200).to_list() for f in [_fast_form(t, order)] if f), "")
        if not fast:
            break
        made = rest.str.to_datetime(fast, time_unit="ms", strict=False, cache=False)
        utc = getattr(made.dtype, "time_zone", None) is not None
        ms = made.dt.timestamp("ms").fill_null(-1).to_numpy()
        fits = (ms >= EARLIEST) & (ms < LATEST)
        if not fits.any():
            break
        at = left[fits]
        local[at], good[at] = ms[fits], True
        told[at] = utc or fast.endswith(("Z", "UTC", "GMT"))
        left = left[~fits]
    for k, text in zip(left.tolist(), texts.gather(left).to_list(), strict=True):
        found = instant_of(text, order)
        if found is not None and EARLIEST <= found[0] < LATEST:
            local[k], good[k] = found[0], True
            told[k], offset[k] = found[1] is not None, found[1] or 0
    return Instants(local, offset, good, told)


def _in_figures(texts: Any) -> Any:
    """Dates with the name of their month as year-month-day."""
    names = texts.str.extract(r"([^\W\d_]{3,})", 1).drop_nulls().unique().to_list()
    if len(names) > 100:
        return texts
    from nestwright.sensing.loggers.words import plain

    for name in names:
        month = _MONTHS.get(plain(name))
        if month:
            day_first = rf"^\s*(\d{{1,2}})[ .-]+{name}[ .,-]+(\d{{4}})\b"
            month_first = rf"^\s*{name}\.?[ -]+(\d{{1,2}}),?[ -]+(\d{{4}})\b"
            for pattern in (day_first, month_first):
                texts = texts.str.replace(pattern, f"${{2}}-{month:02d}-${{1}}")
    return texts


def _fast_form(text: str, order: str) -> str:
    """Format for the whole column after the pattern of one text; "" when there is none."""
    match = _INSTANT.fullmatch(text)
    if match is None or match["b4"] or match["b5"]:
        return ""
    codes: dict[str, str] = {}
    if match["y0"]:
        codes |= {"y0": "%Y", "m0": "%m", "d0": "%d"}
    else:
        year_first = len(match["n1"]) == 4 or (order == "ymd" and len(match["n3"]) <= 2)
        letters = "ymd" if year_first else order
        if not year_first and order == "ymd":
            return ""
        codes |= {
            name: {"y": "%Y" if len(match[name]) == 4 else "%y", "m": "%m", "d": "%d"}[letter]
            for name, letter in zip(("n1", "n2", "n3"), letters, strict=True)
        }
    if match["H"]:
        codes |= {"H": "%I" if match["p"] else "%H", "M": "%M"}
        codes |= {"S": "%S"} if match["S"] else {}
        codes |= {"f": "%.f"} if match["f"] else {}
        if match["f"] and match["f"][0] == ",":
            return ""
        if match["p"]:
            if not re.search(r"[AaPp][Mm]\b", text):
                return ""
            codes |= {"p": "%p"}
        if match["o"] and match["o"][0] in "+-":
            codes |= {"o": "%z"}
    out, at = "", 0
    for start, end, code in sorted((*match.span(name), code) for name, code in codes.items()):
        out += text[at:start].replace("%", "%%") + code
        at = end + 1 if code == "%p" else end
    return out + text[at:].replace("%", "%%")


def dates_in(texts: Any) -> list[str]:
    """The different dates of a polars series of texts that begin with one written in figures, in their order."""
    dates = texts.drop_nulls().str.extract(r"^\s*(\d{1,4}[./-]\s?\d{1,2}[./-]\s?(?:\d{4}|\d{1,2}))", 1)
    return list(dates.drop_nulls().unique(maintain_order=True).to_list())


def order_of(dates: Sequence[str], twelve: bool = False) -> tuple[str, str, str]:
    """Order of day, month and year in dates of a file, in its own order: (order, reason, confidence).

    An order in which some date does not exist is out. Of those left the one whose dates follow each other most
    closely is taken; where that tells nothing the answer is "asked".
    """
    if not dates:
        return "ymd", "no date is written in figures with a mark between", "sure"
    if all(re.match(r"\s*\d{4}", d) for d in dates):
        return "ymd", "the year comes first", "sure"
    days: dict[str, list[int]] = {}
    lost: dict[str, str] = {}
    for order in ORDERS:
        made = [instant_of(d, order) for d in dates]
        days[order] = [m[0] // DAY for m in made if m is not None and EARLIEST <= m[0] < LATEST]
        lost[order] = next((d for d, m in zip(dates, made, strict=True) if m is None), "")
    most = max(len(d) for d in days.values())
    left = [order for order, d in days.items() if len(d) == most]
    if len(left) == 1:
        order = left[0]
        other = next((lost[o] for o in ("dmy", "mdy") if o != order and lost[o]), "")
        if most < len(dates):
            return order, f"most dates fit, but not {lost[order]!r}", "asked"
        return order, f"{other!r} exists in this order only" if other else "only order that fits", "sure"
    paths = {order: sum(abs(b - a) for a, b in pairwise(days[order])) for order in left}
    order = min(left, key=lambda o: paths[o])
    second = min(paths[o] for o in left if o != order)
    if second >= 2 * paths[order] and second - paths[order] >= 5:
        return order, "in this order the dates follow each other without leaps", "likely"
    shown = f"{dates[0]!r} can be read either way"
    if all("." in d for d in dates):
        return "dmy", f"{shown}; with full stops the day usually comes first", "likely"
    return ("mdy" if twelve else "dmy"), shown, "asked"
