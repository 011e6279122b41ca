"""The dossier of a design: drawing, proof, builds, dry runs, colonies, failures, judgements, files; as PDF."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from nestwright.climate.results import CELSIUS, Proof, WindowMap
from nestwright.habitat.model import Habitat
from nestwright.papers.dossier_content import BuildRecord, ColonyRecord, DesignRecord
from nestwright.papers.stand_picture import stand_svg
from nestwright.press.setting import set_paper

__all__ = ["dossier_pdf", "dossier_sheet"]

NONE = "not recorded"
CAUTIONS = (
    "Heat and mains near water: low voltage or a residual current device, a fuse, and a cut-out against overheating "
    "that needs no program.",
    "Leafcutters are plant pests outside their home range: keeping, sending or selling them needs permission in many "
    "places, and they must not escape. Local rules and licensed practice come before this paper, which "
    "gives no permission.",
)
Rows = Sequence[Sequence[str]]


def dossier_pdf(
    habitat: Habitat,
    section: str,
    proof: Proof,
    limits: tuple[Sequence[str], Rows],
    window: WindowMap,
    record: DesignRecord,
    made: date,
    hours: int | None = None,
) -> bytes:
    """PDF of the dossier; arguments as `dossier_sheet`."""
    return set_paper("dossier", dossier_sheet(habitat, section, proof, limits, window, record, hours), made)


def dossier_sheet(
    habitat: Habitat,
    section: str,
    proof: Proof,
    limits: tuple[Sequence[str], Rows],
    window: WindowMap,
    record: DesignRecord,
    hours: int | None = None,
) -> dict[str, Any]:
    """The dossier as headings, lines and tables.

    Parameters
    ----------
    section : SVG of the cross-section.
    limits : column names and rows of the proof's limits, each figure as it is shown elsewhere.
    window : of the same design.
    hours : length of the run whose mean `proof` is; None for a steady one.
    """
    revision = habitat.revision or "none told"
    parts = [
        _design(habitat, section, revision),
        _climate(proof, limits, hours),
        _window(proof, window),
        *(_build(one) for one in record.builds),
        *(_colony(one) for one in record.colonies),
        _failures(record),
        _judgements(proof),
        _files(record),
        _part("Take care", lines=CAUTIONS),
    ]
    if not record.builds:
        parts.insert(3, _part("Builds", lines=["No build of this design is recorded: this is a proof on paper only."]))
    return {
        "lang": "en",
        "title": f"Dossier: {habitat.name}",
        "lead": f"Revision {revision}, for {habitat.species}. What a program computed of this design, and what a "
        "workshop recorded of its builds. What is missing says so.",
        "footer": f"{habitat.name}, revision {revision}",
        "parts": parts,
    }


def _part(
    title: str, lines: Sequence[str] = (), tables: Sequence[dict[str, Any]] = (), picture: dict[str, str] | None = None
) -> dict[str, Any]:
    return {"title": title, "lines": list(lines), "tables": list(tables), "picture": picture}


def _table(title: str, head: Sequence[str], rows: Rows) -> dict[str, Any]:
    return {"title": title, "head": list(head), "rows": [list(row) for row in rows]}


def _mm(metres: float) -> str:
    return f"{1000 * metres:.4g}"


def _design(habitat: Habitat, section: str, revision: str) -> dict[str, Any]:
    rows = [
        [c.name, c.role, c.shape.kind, _mm(c.shape.width), _mm(c.shape.depth), _mm(c.shape.height)]
        for c in habitat.chambers
    ]
    rows += [
        [f"{b.chamber}/bell", "bell", b.shape.kind, _mm(b.shape.width), _mm(b.shape.depth), _mm(b.shape.height)]
        for b in habitat.bells
    ]
    head = ["part", "role", "shape", "width mm", "depth mm", "height mm"]
    alt = f"Cross-section of {habitat.name}, revision {revision}, to scale; sizes stand in the table."
    return _part("The design", ["Inner sizes, as designed."], [_table("", head, rows)], {"svg": section, "alt": alt})


def _climate(proof: Proof, limits: tuple[Sequence[str], Rows], hours: int | None) -> dict[str, Any]:
    verdict = "Every limit is held" if proof.holds else "Does not hold"
    first = proof.first_limit
    lines = [
        f"Room {proof.room}: {proof.room_temperature - CELSIUS:.1f} °C, {100 * proof.room_relative_humidity:.0f} % in "
        f"the mean. {verdict}" + ("." if first is None else f"; the first limit to go is {first.name}."),
        _run(hours) + " The interval is that of the uncertain inputs; a margin below nought lies outside the limit.",
        *proof.notes,
    ]
    return _part("Climate on paper", lines, [_table("", *limits)])


def _run(hours: int | None) -> str:
    if hours is None:
        return "Steady in that mean; a year and its hours were not asked for."
    return f"A run over {hours} hours of the room's record; each limit stands at its worst hour."


def _window(proof: Proof, window: WindowMap) -> dict[str, Any]:
    words = ("room temperature, °C", "room humidity, %", "room of the proof")
    picture = stand_svg(window, (proof.room_temperature - CELSIUS, proof.room_relative_humidity), words)
    alt = "Field of room temperatures and humidities; in the filled part every limit of the design is held."
    held = 100 * float((window.worst >= 0).mean())
    lines = [
        "Rooms in which every limit is held are filled; its edge is good to one step of the field. Of this field "
        f"{held:.0f} % hold."
    ]
    return _part("Rooms in which it holds", lines, picture={"svg": picture, "alt": alt})


def _build(one: BuildRecord) -> dict[str, Any]:
    made = one.made
    values = made.values
    lines = [
        f"Revision {values['revision'] or NONE}; made {values['made'] or NONE}; stands: {values['stands'] or NONE}.",
        f"Lives in it now: {made.colony or 'no colony'}.",
    ]
    dry = one.dry_run
    if dry is None:
        lines.append(f"Dry run: {one.no_dry_run}.")
    else:
        sure = "sure" if dry.sure else "not sure"
        lines.append(
            f"Dry run of {dry.day}, revision {dry.revision or NONE}: {dry.verdict} ({sure}, chance {dry.chance:.2f})."
        )
    measured = [[str(m["what"]), str(m["value"]), str(m["day"] or NONE), str(m["note"] or "")] for m in made.measured]
    checks = [
        [str(q["what"]), _passed(q["passed"]), str(q["value"] or ""), str(q["day"] or NONE), str(q["note"] or "")]
        for q in made.quality
    ]
    tables = [
        _table("Measured", ["what", "value", "day", "note"], measured),
        _table("Checks", ["what", "outcome", "value", "day", "note"], checks),
    ]
    if one.photos:
        rows = [[p.file, f"{p.width} x {p.height}", p.note] for p in one.photos]
        tables.append(_table("Photographs, in the workshop's folder", ["file", "pixels", "note"], rows))
    return _part(f"Build {made.serial}", lines, tables)


def _passed(passed: bool | None) -> str:
    return "not looked at" if passed is None else "passed" if passed else "failed"


def _colony(one: ColonyRecord) -> dict[str, Any]:
    lived = "; ".join(f"in build {serial} from {day}" for serial, day in one.stays)
    lines = [
        f"{one.species}; {lived}. " + (f"Ended {one.ended}." if one.ended else "It lives."),
        "A forecast of an earlier day is not kept by the record, so that none can be held against what happened.",
    ]
    rows = []
    for v in one.visits:
        error = "" if v.garden_error_pct is None else f" ± {v.garden_error_pct:g} %"
        garden = "" if v.garden_ml is None else f"{v.garden_ml:g} mL{error}"
        fill = "" if v.fill_pct is None else f"{v.fill_pct:g} %{error}"
        counts = ", ".join(f"{c.what} {c.text}" for c in v.counts)
        rows.append([v.day.isoformat(), garden or fill, counts, ", ".join(v.health), v.note])
    events = [[day.isoformat(), what, amount, note] for day, what, amount, note in one.events]
    return _part(
        f"Colony {one.name}",
        lines,
        [
            _table("Visits", ["day", "garden or fill", "counted", "looks", "note"], rows),
            _table("Events", ["day", "what", "amount", "note"], events),
        ],
    )


def _failures(record: DesignRecord) -> dict[str, Any]:
    rows = [
        [f"build {b.made.serial}", str(q["what"]), str(q["day"] or NONE), str(q["note"] or "")]
        for b in record.builds
        for q in b.made.quality
        if q["passed"] is not None and not q["passed"]
    ]
    rows += [[f"colony {c.name}", "ended", c.ended, ""] for c in record.colonies if c.ended]
    revisions = sorted({str(b.made.values["revision"] or NONE) for b in record.builds})
    lines = [f"Revisions that were built: {', '.join(revisions)}."] if revisions else []
    return _part("What failed", lines, [_table("", ["of", "what", "day", "note"], rows)])


def _judgements(proof: Proof) -> dict[str, Any]:
    lines = ["These values have no published source, and move a limit noticeably:"] if proof.judgements else []
    own = [[one.name, one.source] for one in proof.limits if one.mark == "judgement"]
    tables = [_table("", ["value"], [[one] for one in proof.judgements])]
    tables.append(_table("Limits that are judgement themselves", ["limit", "why"], own))
    return _part("What rests on judgement", lines, tables)


def _files(record: DesignRecord) -> dict[str, Any]:
    rows = [[one.file, one.sha256 or "the file is gone"] for one in record.files]
    return _part("Files", ["SHA-256 of each file behind this paper."], [_table("", ["file", "sum"], rows)])
