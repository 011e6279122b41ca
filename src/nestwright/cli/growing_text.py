"""The proof of a growing garden in words and tables, for the terminal."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from nestwright.cli.output import CAUTIONS, console, decimals_within, figure, heading, plain, significant, table

if TYPE_CHECKING:
    from nestwright.climate.growing import Deciding, GrowingCase, GrowingPoint, GrowingProof, Stage

__all__ = ["headline", "print_growing"]

WORDS = ("holds", "holds, not sure", "fails, not sure", "fails")
"""By grade: the words of `nestwright climate` for a limit."""
YEAR = 365.0
GRAMS_A_DAY = 86.4e6
"""g/day in 1 kg/s."""
UNKNOWN = "?"


def print_growing(proof: GrowingProof) -> None:
    """Print what is at worst to come and from which day, each course in stages, and each day looked at."""
    out = console()
    out.print(f"[bold]{plain(proof.habitat)}[/bold], revision {plain(proof.revision)}, for {plain(proof.species)}")
    out.print(f"Room {plain(proof.room)}; the garden in {plain(proof.chamber)} grows as forecast")
    cover = "under the bell" if proof.bell else "in the chamber"
    out.print(f"Space for it {cover}: {_millilitres(proof.space)}")
    out.print()
    for word, rest in headline(proof):
        out.print(f"[bold]{plain(word)}[/bold] {plain(rest)}".rstrip())
    for warning in proof.warnings:
        out.print(f"[bold]Warning:[/bold] {plain(warning)}.")
    out.print(heading("What becomes of it, by how fast the garden grows"))
    out.print(table(STAGES, _stages(proof), left=(0, 1, 2, 3)))
    out.print("[dim]Low, middle, high: 1, 5 and 9 in 10 of the forecast's gardens are smaller that day.[/dim]")
    if any(case.points for case in proof.cases):
        out.print(
            "[dim]Margin: in tolerances of its limit, at the worst day of the stage; below 0 it fails. In brackets "
            "what the proof's uncertain inputs leave open; not sure: they turn a verdict.[/dim]"
        )
    _print_days(proof)
    judged = {n for c in proof.cases if c.broken for n in c.broken.rests_on}
    judged |= {n for c in proof.cases for s in c.stages if s.worst.decides for n in s.worst.decides.rests_on}
    if judged:
        out.print(heading("Judgement values that verdicts and days rest on"))
        for name in sorted(judged):
            out.print(name)
    for note in proof.notes:
        out.print(f"Note: {plain(note)}")
    out.print(heading("Cautions"))
    out.print(CAUTIONS["law"])


def headline(proof: GrowingProof) -> list[tuple[str, str]]:
    """Sentences, each as its word of weight and the rest: the worst verdict of any day, and whether the garden fits."""
    said: list[tuple[str, str]] = []
    grades = [p.grade for c in proof.cases for p in c.points]
    if grades and all(p.decides is None for c in proof.cases for p in c.points):
        said.append(("Nothing proved.", "No limit was set."))
    elif grades:
        said.append(_worst(proof, max(grades)))
    said += _by_growth(proof)
    if fits := _fits(proof):
        # A garden that is too large from the first day comes before what is said of the courses that fit.
        said.insert(0 if any(c.outgrown is not None and not c.points for c in proof.cases) else len(said), fits)
    if gone := _when(proof, lambda case: case.gone):
        said.append(("No garden is left", f"{gone}: nothing is proved from then."))
    return said


def _by_growth(proof: GrowingProof) -> list[tuple[str, str]]:
    """Limits that fail before any growth, and those that growth breaks, with the day and the size of the garden."""
    said = []
    first = list(dict.fromkeys(name for case in proof.cases for name in case.fails_at_first))
    if first:
        said.append(("Fails already on the first day:", f"{', '.join(first)}."))
    broken = {case.name: case.broken for case in proof.cases if case.broken is not None}
    for limit in dict.fromkeys(one.limit for one in broken.values()):
        days = [
            f"{_date(proof, one.day)} ({name}, {significant(one.volume * 1e6, 2)} mL)"
            for name, one in sorted(broken.items(), key=lambda item: item[1].day)
            if one.limit == limit
        ]
        word = "Growth breaks" if _surely(proof, limit) else "Growth breaks, not sure,"
        said.append((word, f"{limit} on {', '.join(days)}."))
    if first and not broken:
        said.append(("No other limit", "breaks by growth."))
    return said


def _surely(proof: GrowingProof, limit: str) -> bool:
    """Whether a limit that growth breaks is told as "fails" on the day of the break, in every course."""
    days = [case.on(case.broken.day) for case in proof.cases if case.broken is not None and case.broken.limit == limit]
    told = [p.decides for p in days if p is not None and p.decides is not None and p.decides.limit == limit]
    return all(one.sure for one in told)


def _fits(proof: GrowingProof) -> tuple[str, str] | None:
    """Whether the garden goes under its bell or into its chamber; None where it always does."""
    cover = f"{'under the bell' if proof.bell else 'into the chamber'} ({_millilitres(proof.space)})"
    small = [case.name for case in proof.cases if case.outgrown is not None and not case.points]
    if len(small) == len(proof.cases):
        sizes = _range([growth.volume[0] * 1e6 for growth in proof.courses.values()], lambda x: significant(x, 2))
        rest = f"The forecast begins with {sizes} mL, which do not go {cover}: nothing is proved. Put a larger one "
        return "The garden does not fit.", rest + "into the habitat's file."
    when = _when(proof, lambda case: case.outgrown)
    if not when:
        return None
    return (
        f"The garden {'does not fit' if small else 'no longer fits'}",
        f"{cover} {when}: nothing is proved from then.",
    )


def _worst(proof: GrowingProof, grade: int) -> tuple[str, str]:
    """The worst verdict, the day from which each course has it, and the limit and the margin at its worst day."""
    word = WORDS[grade][0].upper() + WORDS[grade][1:]
    stages = {c.name: [s for s in c.stages if s.first.grade == grade] for c in proof.cases}
    worst = min((s.worst for found in stages.values() for s in found), key=lambda p: _decides(p).margin)
    case = next(c for c in proof.cases if worst in c.points)
    decides = _decides(worst)
    margin = f"{decides.limit}, margin {_margin(decides)} tolerances on {_date(proof, worst.day)}, {case.name} course"
    if grade == 0:
        return f"Holds {_held_until(proof)}.", f"The first limit to go: {margin}."
    stays = all(c.stages[-1].first.grade == grade for c in proof.cases if stages[c.name])
    since = _when(proof, lambda c: stages[c.name][0].first.day if stages[c.name] else None, stays=stays)
    return word + ("," if "," in word else ""), f"{since}. At worst: {margin}."


def _held_until(proof: GrowingProof) -> str:
    """How long a habitat holds that never fails; the sentences after it tell the days."""
    if any(c.outgrown is not None for c in proof.cases):
        return "as long as the garden fits"
    if any(c.gone is not None for c in proof.cases):
        return "as long as there is a garden"
    return f"through {_date(proof, max(proof.looked))} in every course"


def _when(proof: GrowingProof, day_of: Callable[[GrowingCase], float | None], *, stays: bool = True) -> str:
    """From which day in which course, or where it does not stay so the first day; "" where in none."""
    found = {case.name: day for case in proof.cases if (day := day_of(case)) is not None}
    if not found:
        return ""
    names = {day: [name for name in found if found[name] == day] for day in sorted(found.values())}
    alike = len(names) == 1 and len(found) == len(proof.cases)
    told = ", ".join(_date(proof, day) + ("" if alike else f" ({', '.join(mine)})") for day, mine in names.items())
    never = [case.name for case in proof.cases if case.points and case.name not in found]
    rest = f", not in the {' and '.join(never)} course" if never else ""
    return (f"from {told} on" if stays else f"first on {told}") + rest


STAGES = ["course", "from", "verdict", "limit at its worst", "margin"]


def _stages(proof: GrowingProof) -> list[list[str]]:
    rows = []
    for case in proof.cases:
        mine = [[_date(proof, s.first.day), WORDS[s.first.grade], *_at_worst(s)] for s in case.stages]
        if case.outgrown is not None:
            mine.append([_date(proof, case.outgrown), "no longer fits" if case.points else "does not fit", "", ""])
        if case.gone is not None:
            mine.append([_date(proof, case.gone), "no garden left", "", ""])
        rows += [[case.name if number == 0 else "", *row] for number, row in enumerate(mine)]
    return rows


def _at_worst(stage: Stage) -> tuple[str, str]:
    decides = stage.worst.decides
    return ("no limit was set", "") if decides is None else (decides.limit, _margin(decides))


def _print_days(proof: GrowingProof) -> None:
    """Two tables over the days looked at: garden and verdict, air and water; each figure with its range."""
    days = [day for day in proof.looked if any(case.on(day) for case in proof.cases)]
    if not days:
        return
    out = console()
    out.print(heading("Garden and verdict"))
    out.print(table(GARDEN, [_garden_row(proof, day) for day in days], left=(0, 3)))
    out.print(heading("Air and water"))
    out.print(table(WATER, [_water_row(proof, day) for day in days]))
    for line in (
        "Each figure: middle course (least to largest of the three courses). The range is the garden's alone.",
        _own_uncertainty(proof),
        "Water below 0: the water bodies gain. Of water and refill the proof's own uncertainty is not worked out.",
    ):
        out.print(f"[dim]{line}[/dim]")
    if any(case.on(day) is None for case in proof.cases for day in days):
        out.print(
            f"[dim]{UNKNOWN}, or one course alone: in the others the garden does not fit that day, or is gone.[/dim]"
        )


GARDEN = ["day", "garden mL", "worst margin", "verdict at worst"]
WATER = ["day", "CO2 %", "water used g/day", "refill, days"]


def _garden_row(proof: GrowingProof, day: float) -> list[str]:
    points = [case.on(day) for case in proof.cases]
    volume = [float(growth.volume[growth.day == day][0]) for growth in proof.courses.values()]
    found = [p for p in points if p is not None]
    return [
        _date(proof, day),
        _range([v * 1e6 for v in volume], lambda x: significant(x, 2)),
        _spread(proof, day, lambda p: p.margin, lambda x: figure(x, 1, sign=True)),
        "does not fit" if len(found) < len(points) and _too_big(proof, day) else WORDS[max(p.grade for p in found)],
    ]


def _too_big(proof: GrowingProof, day: float) -> bool:
    return any(case.outgrown is not None and day >= case.outgrown for case in proof.cases)


def _water_row(proof: GrowingProof, day: float) -> list[str]:
    found = [p for p in (case.on(day) for case in proof.cases) if p is not None]
    gas = [x * 100 for p in found for x in (p.co2, p.co2_low, p.co2_high) if math.isfinite(x)]
    water = [p.water_rate * GRAMS_A_DAY for p in found]
    decimals = max(1, decimals_within(min(gas, default=0), max(gas, default=0), 2))  # 0 would hide the garden's range
    # Two digits of the largest, since the proof's own uncertainty of it is not known, and no more than the range has.
    most = max(0, 1 - math.floor(math.log10(max(abs(x) for x in water) or 1.0)))
    digits = decimals_within(min(water), max(water), most)
    return [
        _date(proof, day),
        _spread(proof, day, lambda p: p.co2 * 100, lambda x: figure(x, decimals)),
        _spread(proof, day, lambda p: p.water_rate * GRAMS_A_DAY, lambda x: figure(x, digits)),
        _spread(proof, day, lambda p: math.inf if p.refill_time is None else p.refill_time / 86400, _refill),
    ]


def _refill(days: float) -> str:
    """A refill so late that the garden will have changed is no figure to plan by."""
    return "never" if math.isinf(days) else "over a year" if days > YEAR else significant(days)


def _spread(
    proof: GrowingProof, day: float, value: Callable[[GrowingPoint], float], text: Callable[[float], str]
) -> str:
    """A figure's range over the courses that have a garden which fits that day."""
    points = [case.on(day) for case in proof.cases]
    found = [(case.name, value(p)) for case, p in zip(proof.cases, points, strict=True) if p is not None]
    if len(found) < len(points) and len(found) == 1:
        return f"{found[0][0]} {text(found[0][1])}"
    return _range([None if p is None else value(p) for p in points], text)


def _range(values: Sequence[float | None], text: Callable[[float], str]) -> str:
    """The middle value and the least to the largest, "?" for what is not known; one word where they do not differ.

    A course that is not known lies beyond those that are: at the end towards which the figure goes with growth where
    it is a high one, at the other end where it is a low one.
    """
    middle = values[len(values) // 2]
    known = [value for value in values if value is not None]
    shown = [UNKNOWN if middle is None else text(middle), text(min(known)), text(max(known))]
    if len(set(shown)) == 1:
        return shown[0] if len(known) == len(values) else f"{shown[0]} ({UNKNOWN})"
    falling = known[-1] < known[0]
    if values[-1] is None:
        shown[1 if falling else 2] = UNKNOWN
    if values[0] is None:
        shown[2 if falling else 1] = UNKNOWN
    return f"{shown[0]} ({shown[1]} to {shown[2]})"


def _own_uncertainty(proof: GrowingProof) -> str:
    """The interval of CO2 that the proof's inputs leave open, on the first and the last day of the middle course."""
    proved = [case for case in proof.cases if case.points]
    case = next((one for one in proved if one.name == "middle"), proved[0])
    told = []
    for p in dict.fromkeys((case.points[0], case.points[-1])):
        low, high = p.co2_low * 100, p.co2_high * 100
        if math.isfinite(low) and math.isfinite(high):
            decimals = decimals_within(low, high, 2)
            told.append(f"{figure(low, decimals)} to {figure(high, decimals)} % on {_date(proof, p.day)}")
    what = f": of CO2, {case.name} course, {' and '.join(told)}" if told else ""
    return f"Beside it stands the proof's own uncertainty{what}."


def _margin(decides: Deciding) -> str:
    low, high = decides.margin_low, decides.margin_high
    ends = (figure(low, 1, sign=True), figure(high, 1, sign=True))
    value = figure(decides.margin, 1, sign=True)
    return value if set(ends) == {value} else f"{value} ({ends[0]} to {ends[1]})"


def _decides(point: GrowingPoint) -> Deciding:
    if point.decides is None:
        raise ValueError("no limit was set")
    return point.decides


def _millilitres(volume: float) -> str:
    return f"{significant(volume * 1e6, 3)} mL"


def _date(proof: GrowingProof, day: float) -> str:
    from datetime import timedelta

    return f"day {day:.0f}" if proof.start is None else (proof.start + timedelta(days=int(day))).isoformat()
