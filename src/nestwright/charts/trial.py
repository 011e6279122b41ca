"""Trial colonies by revision: growth of each with its error, and how long their gardens were kept."""

from __future__ import annotations

from typing import Any

from nestwright.charts.lettering import of_rows
from nestwright.charts.theme import INK, WIDTH, ZONES, clean, configured
from nestwright.trial.report import Trial

__all__ = ["trial_chart"]

MOST = len(ZONES)
MOST_ROWS = 40


def trial_chart(trial: Trial) -> Any:
    """A chart (altair): above, growth a day of each colony with its standard error; below, the share still kept."""
    from nestwright.charts.declared import alt

    shown = trial.revisions[-MOST:]
    names = [clean(one.name, 24) or "none told" for one in shown]
    colour = alt.Color("revision:N", sort=names, scale=alt.Scale(domain=names, range=list(ZONES[: len(names)])))
    grown, steps = [], []
    for one, name in zip(shown, names, strict=True):
        for c in one.colonies:
            if c.growth is not None:
                middle, error = 100 * c.growth.per_day, 100 * c.growth.error
                row = {"revision": name, "colony": clean(f"{c.colony}, {c.build}", 40), "growth": middle}
                grown.append(row | {"low": middle - error, "high": middle + error})
        if one.survival is not None:
            kept = zip(one.survival.day, one.survival.share, strict=True)
            line = [(0.0, 1.0), *kept, (one.survival.followed, (*one.survival.share, 1.0)[len(one.survival.share) - 1])]
            steps += [{"revision": name, "day": day, "share": 100 * share} for day, share in line]
    rows = of_rows(alt, grown[:MOST_ROWS]).encode(y=alt.Y("colony:N", sort=None, title=None), color=colour)
    x = alt.X("low:Q", title="growth of the garden, % a day", scale=alt.Scale(zero=False))
    points = rows.mark_rule(strokeWidth=2).encode(x=x, x2="high:Q") + rows.mark_point(filled=True, size=70).encode(
        x="growth:Q"
    )
    kept_lines = (
        of_rows(alt, steps)
        .mark_line(interpolate="step-after", strokeWidth=2)
        .encode(
            x=alt.X("day:Q", title="days in the build"),
            y=alt.Y("share:Q", title="colonies that keep their garden, %", scale=alt.Scale(domain=[0, 100])),
            color=colour,
            strokeDash=alt.StrokeDash("revision:N", sort=names, legend=None),
        )
    )
    panels = [
        *([points.properties(width=WIDTH - 160, height=22 * max(2, len(grown[:MOST_ROWS])))] if grown else []),
        *([kept_lines.properties(width=WIDTH - 160, height=180)] if steps else []),
    ]
    if not panels:
        panels = [of_rows(alt, [{"a": "No colony has lived in one of its builds yet."}]).mark_text(
            color=INK).encode(text="a:N").properties(width=WIDTH - 160, height=60)]  # fmt: skip
    chart = alt.vconcat(*panels, spacing=18)
    return configured(chart, f"{clean(trial.habitat, 40)}: trial colonies by revision", _lines(trial))


def _lines(trial: Trial) -> list[str]:
    lines = ["Bars: one standard error. Steps: losses; the living count up to their last visit."]
    if trial.compared:
        last = trial.compared[-1]
        word = {"better": "grew faster", "worse": "grew slower"}.get(last.says, "cannot be told apart in growth")
        name = f"Revision {clean(last.later, 12)}"
        told = f"{name} against {clean(last.earlier, 12)}: {word}."
        lines.append(told)
    return lines
