"""The dossier of a design: drawing, proof, builds, dry runs, colonies, failures, judgements, files; as PDF."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, date, datetime
from typing import Any

from nestwright.climate.results import CELSIUS, Proof, WindowMap
from nestwright.data import load_species
from nestwright.habitat.model import Habitat
from nestwright.papers.dossier_content import BuildRecord, ColonyRecord, DesignRecord, shown_photos
from nestwright.papers.dossier_outcomes import changes_told, outcomes_told
from nestwright.papers.marks import N_
from nestwright.papers.names import counted, drawn, figures, limit_name, limit_table, measured, named
from nestwright.papers.stand_picture import stand_svg
from nestwright.papers.words import decimal, words_of
from nestwright.parts.openings import ant_openings
from nestwright.press.setting import Photograph, set_paper
from nestwright.wording.window import map_share
from nestwright.workshop.photos import Photo

__all__ = ["dossier_pdf", "dossier_sheet"]

NONE = N_("not recorded")
CAUTIONS = (
    N_(
        "Heat and mains near water: low voltage or a residual current device, a fuse, and a cut-out against "
        "overheating that needs no program."
    ),
    N_(
        "Leafcutters are plant pests outside their home range: keeping, sending or selling them needs permission in "
        "many places, and they must not escape. Local rules and licensed practice come before this paper, which "
        "gives no permission."
    ),
)
TOLD = (N_("as designed"), N_("cannot tell"), N_("no dry run is kept"))
"""Of a dry run, as the record words them."""
OPENINGS = (N_("hole"), N_("slot"), N_("mesh"))
"""Kinds of openings, as a design's file words them."""
Rows = Sequence[Sequence[str]]
Say = Callable[[str], str]


def dossier_pdf(
    habitat: Habitat,
    section: str,
    proof: Proof,
    limits: tuple[Sequence[str], Rows],
    window: WindowMap,
    record: DesignRecord,
    made: date,
    hours: int | None = None,
    language: str = "en",
) -> bytes:
    """PDF of the dossier; arguments as `dossier_sheet`."""
    return set_paper("dossier", dossier_sheet(habitat, section, proof, limits, window, record, hours, language), made)


def dossier_sheet(
    habitat: Habitat,
    section: str,
    proof: Proof,
    limits: tuple[Sequence[str], Rows],
    window: WindowMap,
    record: DesignRecord,
    hours: int | None = None,
    language: str = "en",
) -> dict[str, Any]:
    """The dossier as headings, lines and tables.

    Parameters
    ----------
    section : SVG of the cross-section.
    limits : column names and rows of the proof's limits, each figure as it is shown elsewhere.
    window : of the same design.
    hours : length of the run whose mean `proof` is; None for a steady one.
    language : of the paper; names of values, which are keys of the data, stay as they are.

    Raises InputError for a language that is not there.
    """
    _ = words_of(language).gettext
    revision = habitat.revision or _("not told")
    parts = [
        _design(habitat, drawn(section, {c.name for c in habitat.chambers}, language, _), revision, language, _),
        _climate(proof, limit_table(*limits, language, _), hours, language, _),
        _window(proof, window, _),
        *(_build(one, record, language, _) for one in record.builds),
        *(_colony(one, record, language, _) for one in record.colonies),
        _failures(record, _),
        _part(_("What changed between revisions"), *changes_told(record, _)),
        _judgements(proof, _),
        _files(record, _),
        _part(_("Take care"), lines=[_(one) for one in CAUTIONS]),
    ]
    if not record.builds:
        alone = _("No build of this design is recorded: this is a proof on paper only.")
        parts.insert(3, _part(_("Builds"), lines=[alone]))
    lead = _(
        "Revision {revision}, for {species}. What a program computed of this design, and what a workshop recorded of "
        "its builds. What is missing says so."
    )
    return {
        "lang": language,
        "title": _("Dossier: {habitat}").format(habitat=habitat.name),
        "lead": lead.format(revision=revision, species=habitat.species),
        "footer": _("{habitat}, revision {revision}").format(habitat=habitat.name, revision=revision),
        "none": _("none recorded"),
        "parts": parts,
    }


def _part(
    title: str,
    lines: Sequence[str] = (),
    tables: Sequence[dict[str, Any]] = (),
    picture: dict[str, Any] | None = None,
    photos: Sequence[dict[str, Any]] = (),
) -> dict[str, Any]:
    told = {"title": title, "lines": list(lines), "tables": list(tables)}
    return {**told, "picture": picture, "photos": list(photos)}


def _table(title: str, head: Sequence[str], rows: Rows) -> dict[str, Any]:
    return {"title": title, "head": list(head), "rows": [list(row) for row in rows]}


def _mm(metres: float) -> str:
    return f"{1000 * metres:.4g}"


def _design(habitat: Habitat, section: str, revision: str, language: str, _: Say) -> dict[str, Any]:
    rows = [
        [c.name, _(c.role), _(c.shape.kind), _mm(c.shape.width), _mm(c.shape.depth), _mm(c.shape.height)]
        for c in habitat.chambers
    ]
    rows += [
        [f"{b.chamber}/bell", _("bell"), _(b.shape.kind), _mm(b.shape.width), _mm(b.shape.depth), _mm(b.shape.height)]
        for b in habitat.bells
    ]
    head = [_("part"), _("role"), _("shape"), _("width mm"), _("depth mm"), _("height mm")]
    alt = _("Cross-section of {habitat}, revision {revision}, to scale; sizes stand in the table.")
    picture = {"svg": section, "alt": alt.format(habitat=habitat.name, revision=revision), "width": 70}
    tables = [_table("", head, rows), _openings(habitat, language, _)]
    return _part(_("The design"), [_("Inner sizes, as designed.")], tables, picture)


def _openings(habitat: Habitat, language: str, _: Say) -> dict[str, Any]:
    """Vents and grids that ants come to and are not to pass: how many, how wide, and whether that stops them."""
    rows = []
    for one in ant_openings(habitat, load_species(habitat.species)):
        pattern = one.pattern
        told = _mm(pattern.aperture if pattern.kind == "mesh" else pattern.width)
        if pattern.kind == "slot":
            told += f" × {_mm(pattern.length)}"
        sizes = (told, f"{1000 * one.widest:.2g}", f"{1000 * one.stop.sure:.2g}")
        rows.append(
            [
                one.name, _(pattern.kind), str(pattern.count), *(decimal(size, language) for size in sizes),
                {False: _("stopped"), None: _("some may pass"), True: _("passes")}[one.passed],
            ]
        )  # fmt: skip
    head = [
        _("opening"), _("kind"), _("number"), _("size mm"), _("widest, made, mm"), _("stops at, mm"),
        _("smallest worker"),
    ]  # fmt: skip
    return _table(_("Openings that ants come to and are not to pass"), head, rows)


def _climate(
    proof: Proof, limits: tuple[Sequence[str], Rows], hours: int | None, language: str, _: Say
) -> dict[str, Any]:
    verdict = _("Every limit is held.") if proof.holds else _("Does not hold.")
    room = _("Room {room}: {t} °C, {h} % in the mean.").format(
        room=proof.room,
        t=decimal(f"{proof.room_temperature - CELSIUS:.1f}", language),
        h=f"{100 * proof.room_relative_humidity:.0f}",
    )
    first = proof.first_limit
    goes = "" if first is None else _("The first limit to go is {limit}.").format(limit=limit_name(first.name, _))
    lines = [
        " ".join(one for one in (room, verdict, goes) if one),
        _run(hours, _)
        + " "
        + _("The interval is that of the uncertain inputs; a margin below nought lies outside the limit."),
        *(_(note) for note in proof.notes),
    ]
    return _part(_("Climate on paper"), lines, [_table("", *limits)])


def _run(hours: int | None, _: Say) -> str:
    if hours is None:
        return _("Steady in that mean; a year and its hours were not asked for.")
    told = _("A run over {hours} hours of the room's record; each limit stands at its worst hour.")
    return told.format(hours=hours)


def _window(proof: Proof, window: WindowMap, _: Say) -> dict[str, Any]:
    words = (_("room temperature, °C"), _("room humidity, %"), _("room of the proof"))
    picture = stand_svg(window, (proof.room_temperature - CELSIUS, proof.room_relative_humidity), words)
    alt = _("Field of room temperatures and humidities; in the filled part every limit of the design is held.")
    held = _(
        "Rooms in which every limit is held are filled; its edge is good to one step of the field. Of this field "
        "{share} hold."
    ).format(share=_share(float((window.worst >= 0).mean()), _))
    return _part(_("Rooms in which it holds"), [held], picture={"svg": picture, "alt": alt, "width": 50})


def _share(share: float, _: Say) -> str:
    told = map_share(share)
    return {"under 1 %": _("under 1 %"), "over 99 %": _("over 99 %")}.get(told, told)


def _build(one: BuildRecord, record: DesignRecord, language: str, _: Say) -> dict[str, Any]:
    made = one.made
    values = made.values
    none = _(NONE)
    lines = [
        _("Revision {revision}; made {day}; stands: {place}.").format(
            revision=values["revision"] or none, day=values["made"] or none, place=values["stands"] or none
        ),
        _("Lives in it now: {colony}.").format(colony=made.colony or _("no colony")),
    ]
    dry = one.dry_run
    if dry is None:
        lines.append(_("Dry run: {why}.").format(why=_(one.no_dry_run)))
    else:
        told = _("Dry run of {day}, revision {revision}: {verdict} ({sure}, chance {chance}).")
        lines.append(
            told.format(
                day=dry.day, revision=dry.revision or none, verdict=_(dry.verdict),
                sure=_("sure") if dry.sure else _("not sure"), chance=decimal(f"{dry.chance:.2f}", language),
            )
        )  # fmt: skip
    rows = [
        [measured(str(m["what"]), _), str(m["value"]), str(m["day"] or none), str(m["note"] or "")]
        for m in made.measured
    ]
    checks = [
        [str(q["what"]), _passed(q["passed"], _), str(q["value"] or ""), str(q["day"] or none), str(q["note"] or "")]
        for q in made.quality
    ]
    tables = [
        _table(_("Measured"), [_("what"), _("value"), _("day"), _("note")], rows),
        _table(_("Checks"), [_("what"), _("outcome"), _("value"), _("day"), _("note")], checks),
    ]
    lines += _photo_lines(one.photos, record.pictures, _)
    title = _("Build {serial}").format(serial=made.serial)
    return _part(title, lines, tables, photos=_photos(one.photos, record.pictures, _))


def _photo_lines(photos: Sequence[Photo], pictures: Mapping[str, Photograph], _: Say) -> list[str]:
    """What is said of photographs that are not printed."""
    if not photos:
        return [_("Photographs: none.")]
    left, gone = len(photos) - len(shown_photos(photos)), sum(p.file not in pictures for p in shown_photos(photos))
    lines = [_("Photographs: {n}, made small here.").format(n=len(photos))]
    if left:
        lines.append(_("Of these {n} are not printed: the first and the newest are.").format(n=left))
    if gone:
        lines.append(_("Of these {n} can no longer be read.").format(n=gone))
    return lines


def _photos(photos: Sequence[Photo], pictures: Mapping[str, Photograph], _: Say) -> list[dict[str, Any]]:
    told = []
    for photo in shown_photos(photos):
        if photo.file not in pictures:
            continue
        day = _("day not told")
        if photo.taken is not None:
            day = datetime.fromtimestamp(photo.taken / 1000, UTC).strftime("%Y-%m-%d %H:%M UTC")
        alt = _("Photograph of {day}").format(day=day)
        caption = f"{day}. {photo.note}" if photo.note else day
        told.append({"photograph": pictures[photo.file], "alt": alt, "caption": caption})
    return told


def _passed(passed: bool | None, _: Say) -> str:
    return _("not looked at") if passed is None else _("passed") if passed else _("failed")


def _colony(one: ColonyRecord, record: DesignRecord, language: str, _: Say) -> dict[str, Any]:
    lived = "; ".join(_("in build {serial} from {day}").format(serial=serial, day=day) for serial, day in one.stays)
    ended = _("Ended {day}.").format(day=one.ended) if one.ended else _("It lives.")
    lines, forecasts = outcomes_told(one, _)
    lines = [f"{one.species}; {lived}. {ended}", *lines, *_photo_lines(one.photos, record.pictures, _)]
    rows = []
    for v in one.visits:
        error = "" if v.garden_error_pct is None else f" ± {v.garden_error_pct:g} %"
        garden = "" if v.garden_ml is None else f"{v.garden_ml:g} mL{error}"
        fill = "" if v.fill_pct is None else f"{v.fill_pct:g} %{error}"
        counts = ", ".join(f"{_(c.what)} {counted(c.text, _)}" for c in v.counts)
        rows.append([v.day.isoformat(), figures(garden or fill, language), counts, named(v.health, _), v.note])
    events = [
        [day.isoformat(), _(what), figures(counted(amount, _), language), note]
        for day, what, amount, note in one.events
    ]
    tables = [
        _table(_("Visits"), [_("day"), _("garden or fill"), _("counted"), _("looks"), _("note")], rows),
        _table(_("Events"), [_("day"), _("what"), _("amount"), _("note")], events),
        *({**told, "rows": [[figures(x, language) for x in row] for row in told["rows"]]} for told in forecasts),
    ]
    title = _("Colony {name}").format(name=one.name)
    return _part(title, lines, tables, photos=_photos(one.photos, record.pictures, _))


def _failures(record: DesignRecord, _: Say) -> dict[str, Any]:
    none = _(NONE)
    rows = [
        [
            _("build {serial}").format(serial=b.made.serial), str(q["what"]), str(q["day"] or none),
            str(q["note"] or ""),
        ]
        for b in record.builds
        for q in b.made.quality
        if q["passed"] is not None and not q["passed"]
    ]  # fmt: skip
    rows += [[_("colony {name}").format(name=c.name), _("ended"), c.ended, ""] for c in record.colonies if c.ended]
    revisions = sorted({str(b.made.values["revision"] or none) for b in record.builds})
    built = _("Revisions that were built: {names}.").format(names=", ".join(revisions))
    table = _table("", [_("of"), _("what"), _("day"), _("note")], rows)
    return _part(_("What failed"), [built] if revisions else [], [table])


def _judgements(proof: Proof, _: Say) -> dict[str, Any]:
    rests = _("These values have no published source, and move a limit noticeably:")
    own = [[limit_name(one.name, _), _(one.source)] for one in proof.limits if one.mark == "judgement"]
    tables = [_table("", [_("value")], [[one] for one in proof.judgements])]
    tables.append(_table(_("Limits that are judgement themselves"), [_("limit"), _("why")], own))
    return _part(_("What rests on judgement"), [rests] if proof.judgements else [], tables)


def _files(record: DesignRecord, _: Say) -> dict[str, Any]:
    rows = [[one.file, one.sha256 or _("the file is gone")] for one in record.files]
    lines = [_("SHA-256 of each file behind this paper.")]
    return _part(_("Files"), lines, [_table("", [_("file"), _("sum")], rows)])
