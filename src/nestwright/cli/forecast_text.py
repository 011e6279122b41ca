"""A forecast in words and tables, for the terminal."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

from nestwright.cli.output import CAUTIONS, console, heading, plain, significant, table
from nestwright.wording.forecast import (
    BEYOND,
    FLOWS,
    SPACE,
    chance_text,
    date_rows,
    growth_lines,
    later_days,
    learnt,
    leaves_line,
    past_line,
    surprises,
    table_rows,
    today_rows,
    value_text,
)
from nestwright.wording.last_reading import readings_apart
from nestwright.wording.ranges import (
    FULLER,
    span_of_days,
)
from nestwright.wording.values import in_words

if TYPE_CHECKING:
    from nestwright.colony.results import Forecast
    from nestwright.errands.forecast import Told

__all__ = ["print_forecast"]

COUNTED_WITH = ("leaf_dry_share", "leaf_dry_area", "waste_dry_share")


def print_forecast(told: Told) -> None:
    """Print a forecast: today, growth, what was learnt, the days to come, dates, and what it rests on."""
    result, out = told.forecast, console()
    fit = result.fit
    today = fit.start + timedelta(days=fit.days)
    out.print(f"[bold]{plain(fit.colony)}[/bold], {plain(fit.species)}")
    for line in told.losses:
        out.print(plain(line))
    if not fit.points and not told.losses:
        out.print("No observations yet: this is what the species card alone says")
    seen = f"{len(fit.points)} {'observation' if len(fit.points) == 1 else 'observations'}"
    length, ahead = span_of_days(fit.days), span_of_days(result.horizon)
    out.print(f"Record of {length} from {fit.start} with {seen}; forecast of {ahead}")
    for source in told.climate:
        out.print(f"Climate: {plain(source)}")
    later = later_days(result, told.today)
    if past_line(result, told.today):
        out.print(f"[bold]{past_line(result, told.today)}[/bold]")
    out.print(heading(f"On {today}"))
    out.print(_today(result))
    for line in readings_apart(told, later):
        out.print(line)
    fill = result.bands.get("fill")
    if fill is not None and float(fill.high[0]) > 1:
        out.print(FULLER)
    if 0 < later <= result.horizon:
        out.print(heading(f"Today, {told.today}, {span_of_days(later)} later and without another look"))
        out.print(_today(result, later))
    out.print(heading("Growth of the garden" + (f", counted from {today}" if later else "")))
    for line in growth_lines(told):
        out.print(line)
    out.print(heading("Days to come: middle, and the range of 8 outcomes in 10"))
    for kinds in (SPACE, FLOWS):
        head, rows = table_rows(result, kinds, later)
        out.print(table(head, rows))
    out.print(leaves_line(result))
    if told.water is not None:
        out.print(_water(told))
    out.print(heading("Dates"))
    out.print(table(["what", "chance", "early", "middle", "late"], date_rows(result, told.today), left=(0,)))
    beyond = f"{BEYOND}: not within {span_of_days(result.horizon)}."
    out.print(f"[dim]Early, middle, late: by then it has come in 1, 5 and 9 outcomes in 10. {beyond}[/dim]")
    out.print(f"Workers and garden alive on the last day: {chance_text(result.survival)}")
    _grounds(told)
    out.print("[dim]Every name above is explained in docs/guide/forecast.md.[/dim]")
    for note in result.notes:
        out.print(f"Note: {plain(note)}")
    out.print(heading("Cautions"))
    out.print(CAUTIONS["law"])


def _today(result: Forecast, later: int = 0) -> Any:
    return table(["", "middle, and range of 8 outcomes in 10"], today_rows(result, later), left=(0, 1))


def _water(told: Told) -> str:
    water = told.water
    assert water is not None
    refill = "never dry" if water.refill is None else f"a fill lasts {significant(water.refill)} days"
    return (
        f"Water of {plain(water.habitat)} by its proof: {significant(water.rate)} g/day, {refill}, with the garden "
        "of the habitat's file (`climate --forecast` follows the growth)"
    )


def _grounds(told: Told) -> None:
    from nestwright.data import colony_values

    fit, out = told.forecast.fit, console()
    out.print(heading("What the record taught"))
    rows = [
        [in_words(e.name), value_text(e.name, e.unit, e.low, e.middle, e.high), value_text(e.name, e.unit, *e.prior)]
        for e in learnt(fit)
    ]
    if rows:
        out.print(table(["value", "now", "before"], rows, left=(0, 1, 2)))
    else:
        out.print("Nothing: all values are as before the record.")
    out.print(heading("The record against the model, each observation by all before it"))
    measured = [p for p in fit.points if p.surprise is not None]
    if measured:
        inside = sum(p.expected_low <= p.value <= p.expected_high for p in measured)
        out.print(f"{inside} of {len(measured)} observations in their 80 % band")
    else:
        out.print("No measured observation to compare.")
    for line in surprises(fit, told.observations):
        out.print(f"Surprise: {plain(line)}")
    judged = [e for e in fit.estimates if e.name in fit.judgements]
    rows = [[in_words(e.name), value_text(e.name, e.unit, e.low, e.middle, e.high)] for e in judged]
    common = {n: colony_values()[n] for n in COUNTED_WITH}
    rows += [
        [f"{in_words(n)} (drawn from its range)", value_text(n, v.unit, v.low, v.value, v.high)]
        for n, v in common.items()
        if v.mark == "judgement"
    ]
    if rows:
        out.print(heading("Judgement values that it rests on"))
        out.print(table(["value without a published source", "range used"], rows, left=(0, 1)))
