"""The colony's part of the demo's page."""

from __future__ import annotations

from datetime import timedelta
from html import escape
from typing import TYPE_CHECKING

from nestwright.cli.demo_page import picture_html, table_html
from nestwright.cli.output import figure
from nestwright.wording.diagnosis import since_text, size_text, weight_text
from nestwright.wording.forecast import FLOWS, SPACE, table_rows
from nestwright.wording.ranges import ranged

if TYPE_CHECKING:
    from nestwright.cli.demo_colony import Grown
    from nestwright.colony.results import Diagnosis
    from nestwright.errands.forecast import Told

__all__ = ["colony_section"]


def colony_section(grown: Grown, file: str, days: int) -> str:
    """HTML of the colony: where it stands, what comes and when, whether something is wrong, and the commands."""
    told, weighed = grown.told, grown.diagnosis
    result = told.forecast
    fit = result.fit
    tables = [table_html(*table_rows(result, kinds)) for kinds in (SPACE, FLOWS)]
    today = fit.start + timedelta(days=fit.days)
    remarks = "".join(f"<li>{escape(note)}</li>" for note in (*told.climate, *result.notes))
    return f"""<section>
<h1>{escape(fit.colony)}: a colony and its garden</h1>
<p class="quiet">{escape(fit.species)}, invented; a record of {fit.days} days to {today}, {len(fit.points)} observations
and a logger. Every range holds 8 outcomes in 10.</p>
<p>{escape(_today(told))}</p>
{picture_html("growth", "Garden and workers: the record with what was seen, then the days to come.")}
<p><code>{escape(f"nestwright forecast {file} --days {days} --pictures pictures")}</code></p>
<h2>Days to come</h2>
{"".join(f'<div class="scroll">{one}</div>' for one in tables)}
<h2>Dates</h2>
{picture_html("dates", "When the next parts are needed, and when to begin them.")}
{picture_html("leaves", "Fresh leaves and waste a day.")}
{picture_html("brood", "The brood on its way.")}
<h2>Is something wrong?</h2>
<p>{escape(_verdict(weighed))}</p>
<div class="scroll">{table_html(["cause", "weight", "since (8 in 10)", "how much (8 in 10)"], _causes(weighed))}</div>
{_notes(weighed)}
{picture_html("evidence", "What explains the record best, as the record grew.")}
<p><code>{escape(f"nestwright diagnose {file} --picture evidence.svg")}</code></p>
<h2>What this rests on</h2>
<p>Most values of the growth model are judgement: {escape(", ".join(n.replace("_", " ") for n in fit.judgements))}
came from no published source and were little changed by the record.</p>
<ul>{remarks}</ul>
</section>
"""


def _today(told: Told) -> str:
    bands, pace = told.forecast.bands, told.pace

    def now(name: str, factor: float = 1.0) -> str:
        one = bands[name]
        low, middle, high = (factor * float(end[0]) for end in (one.low, one.middle, one.high))
        return ranged(low, middle, high)

    low, middle, high = (figure(100 * x, 1, sign=True) for x in pace.per_day)
    fill = f", {now('fill', 100)} % of its bell" if "fill" in bands else ""
    return (
        f"Today: {now('garden')} mL of garden{fill}, and {now('workers')} workers. Over the next {pace.days} days the "
        f"garden grows by {middle} % a day ({low} to {high} %)."
    )


def _verdict(weighed: Diagnosis) -> str:
    said = weighed.verdict[:1].upper() + weighed.verdict[1:]
    return f"{said}. Each cause was fitted alone to the whole record; a weight is its chance among those compared."


def _causes(weighed: Diagnosis) -> list[list[str]]:
    return [
        [c.says, weight_text(c.weight), since_text(c, weighed.start), size_text(c)]
        for c in weighed.causes
        if c.weight >= 0.01
    ]


def _notes(weighed: Diagnosis) -> str:
    lines = [f"{c.says}: {c.note}" for c in weighed.causes if c.weight >= 0.01 and c.note]
    lines += [n for n in weighed.notes if n.startswith("weights")]
    return "<ul>" + "".join(f"<li>{escape(line)}</li>" for line in lines) + "</ul>"
