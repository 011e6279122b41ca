"""What a dossier tells of forecasts held against the record, and of changes between revisions."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nestwright.papers.dossier_content import ColonyRecord, DesignRecord

__all__ = ["changes_told", "outcomes_told"]

Say = Callable[[str], str]
MOST = 40
"""Rows of one table."""
UNITS = {"garden": "mL", "workers": ""}


def outcomes_told(one: ColonyRecord, _: Say) -> tuple[list[str], list[dict[str, Any]]]:
    """Lines and table of a colony's forecasts beside what was seen."""
    if not one.forecasts:
        return [_("No forecast of an earlier day was kept, so that none can be held against what happened.")], []
    first, last = one.forecasts[0].made.isoformat(), one.forecasts[-1].made.isoformat()
    lines = [
        _("Forecasts kept: {n}, of {first} to {last}.").format(n=len(one.forecasts), first=first, last=last),
    ]
    if not one.outcomes:
        return [*lines, _("Nothing that they told of has been looked at since.")], []
    held = _(
        "Of {n} later observations {inside} lie within the band in which 8 of 10 were to lie. They are of one colony "
        "and one model, so that they do not count as {n} trials."
    ).format(n=len(one.outcomes), inside=sum(o.inside for o in one.outcomes))
    names = {"garden": _("garden"), "workers": _("workers")}
    rows = []
    for o in one.outcomes[-MOST:]:
        unit = f" {UNITS[o.kind]}".rstrip()
        error = f" ± {100 * o.error:.0f} %" if o.error else ""
        band = f"{o.middle:.3g} ({o.low:.3g} – {o.high:.3g}){unit}"
        kept = _("within") if o.inside else _("outside")
        rows.append(
            [o.day.isoformat(), names[o.kind], f"{o.seen:.3g}{unit}{error}", o.made.isoformat(), band, kept]
        )  # fmt: skip
    if len(one.outcomes) > MOST:
        lines.append(_("The newest {n} are shown.").format(n=MOST))
    head = [_("day"), _("what"), _("seen"), _("forecast of"), _("told, 8 in 10"), _("band")]
    return [*lines, held], [{"title": _("Forecast beside what happened"), "head": head, "rows": rows}]


def changes_told(record: DesignRecord, _: Say) -> tuple[list[str], list[dict[str, Any]]]:
    """Lines and tables of what changed from each revision to the next, by key of the habitat file."""
    built = {str(b.made.values["revision"]) for b in record.builds}
    there = [r.name for r in record.revisions]
    lines = []
    missing = sorted(built - set(there))
    if missing:
        told = _("No file is kept of revision {names}: what changed to or from it cannot be told.")
        lines.append(told.format(names=", ".join(name or "?" for name in missing)))
    if len(there) < 2:
        lines.append(_("Files of fewer than two revisions are there to compare."))
    tables = []
    absent = _("not there")
    for before, after, found in record.changes:
        title = _("From revision {a} to {b}").format(a=before or "?", b=after or "?")
        rows = [[c.key, c.before or absent, c.after or absent] for c in found[:MOST]]
        if len(found) > MOST:
            lines.append(_("The first {n} changes of each are shown.").format(n=MOST))
        tables.append({"title": title, "head": [_("what"), _("before"), _("after")], "rows": rows})
    return lines, tables
