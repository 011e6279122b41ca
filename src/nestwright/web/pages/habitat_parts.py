"""A habitat's parts: in the round and listed, what breaks a rule, what one costs, drawings and files to make them."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Literal

from fastapi import APIRouter, HTTPException, Request
from starlette.responses import FileResponse, RedirectResponse, Response

from nestwright.errors import InputError
from nestwright.files import plain_name
from nestwright.web.habitat_files import file_of
from nestwright.web.making_files import begin_files, file_at, packed, written
from nestwright.web.making_work import MADE, Asked, Making, asked, begin, drawing, has_drawing
from nestwright.web.named import Named
from nestwright.web.part_words import part_named, parts_named_in
from nestwright.web.render import faults_of, page, shown_for, workshop_at
from nestwright.web.shown import INCH, Shown

if TYPE_CHECKING:
    from nestwright.parts.costs import BatchCost, Costs
    from nestwright.parts.model import Part

router = APIRouter()
WAYS = {
    "printed": "printed", "resin": "resin printed", "laser": "laser cut", "milled": "milled", "turned": "turned",
    "cast": "cast", "cut": "cut from stock", "bought": "bought",
}  # fmt: skip


@router.get("/habitats/{stem}/parts")
def parts(request: Request, stem: Named) -> Response:
    """The parts of a habitat; the work begins when nobody has made them from these files."""
    workshop = workshop_at(request)
    told = asked(workshop, file_of(workshop, stem))
    job = begin(request.app.state.jobs, told)
    made = MADE.get(told.key) if job.state == "done" else None
    values: dict[str, Any] = {
        "told": told,
        "stem": stem,
        "job": job,
        "made": made,
        "faults": faults_of(job.error) if job.error else [],
    }
    if made is None:
        return page(request, "habitat_parts_wait.html", 422 if job.error else 200, **values)
    files = written(workshop, made)
    writing = request.app.state.jobs.last(f"parts-files/{made.key}")
    values |= {
        "files": [(name, _bytes(shown_for(request), size)) for name, size in files.files],
        "folder": files.folder,
        "current": files.current,
        "writing": writing if writing is not None and writing.going else None,
        "write_faults": faults_of(writing.error) if writing is not None and writing.error else [],
    }
    return page(request, "habitat_parts.html", **values, **_read(shown_for(request), told, made))


@router.post("/habitats/{stem}/parts")
def anew(request: Request, stem: Named) -> Response:
    """Begin again after the work failed or was stopped."""
    workshop = workshop_at(request)
    told = asked(workshop, file_of(workshop, stem))
    begin(request.app.state.jobs, told, again=True)
    return RedirectResponse(told.address, 303)


@router.post("/habitats/{stem}/parts/files")
def write(request: Request, stem: Named) -> Response:
    """Write all files into the workshop."""
    workshop = workshop_at(request)
    told = asked(workshop, file_of(workshop, stem))
    made = MADE.get(told.key)
    if made is not None and made.refused is None:
        begin_files(request.app.state.jobs, workshop, told, made)
    return RedirectResponse(f"{told.address}#files", 303)


@router.get("/habitats/{stem}/parts/files/{name:path}")
def download(request: Request, stem: Named, name: str) -> Response:
    """A file that was written."""
    workshop = workshop_at(request)
    made = MADE.get(asked(workshop, file_of(workshop, stem)).key)
    path = None if made is None else file_at(workshop, made, name)
    if path is None:
        raise HTTPException(404)
    return FileResponse(path, filename=path.name)


@router.get("/habitats/{stem}/parts/all.zip")
def download_all(request: Request, stem: Named) -> Response:
    """All files that were written, in one."""
    workshop = workshop_at(request)
    made = MADE.get(asked(workshop, file_of(workshop, stem)).key)
    if made is None or not written(workshop, made).files:
        raise HTTPException(404)
    name = written(workshop, made).folder.rpartition("/")[2]
    headers = {"content-disposition": f'attachment; filename="{name}.zip"'}
    return Response(packed(workshop, made), media_type="application/zip", headers=headers)


def _bytes(show: Shown, size: int) -> str:
    return f"{show.number(size / 1e6)} MB" if size >= 1e6 else f"{show.number(max(size, 100) / 1e3)} kB"


def _read(show: Shown, told: Asked, made: Making) -> dict[str, Any]:
    """What was made as the page shows it."""
    from nestwright.wording.cautions import CAUTIONS

    names = tuple(part.name for part in made.assembly.parts)
    rows = [_row(show, made, number, part) for number, part in enumerate(made.assembly.parts)]
    places = {part.name: number for number, part in enumerate(made.assembly.parts)}
    rules = [
        {"severity": b.severity, "text": parts_named_in(b.message, names, show), "part": b.part}
        | {"number": places.get(b.part), "line": b.line}
        for b in made.broken
    ]
    refused = faults_of(made.refused) if made.refused else []
    return {
        "rows": rows,
        "bought": sum(part.way == "bought" for part in made.assembly.parts),
        "mass": show.mass(1e3 * made.made.mass),
        "rules": rules,
        "ants": [replace(one, message=parts_named_in(one.message, names, show)) for one in made.ants],
        "errors": [one.severity for one in made.broken].count("error")
        + [one.severity for one in made.ants].count("error")
        + len(refused),
        "refused": refused,
        "checked": _checked(show, made),
        "costs": None if made.costs is None else _costs(show, made.costs),
        "cost_faults": faults_of(made.no_costs) if made.no_costs else [],
        "cautions": [*made.cautions, CAUTIONS["law"]],
        "pictures": f"{told.address}/{made.key}",
    }


def _checked(show: Shown, made: Making) -> dict[str, Any]:
    """What was held against the proof on the solids, and how the parts come out."""
    steps = made.made.taken.steps if made.made.taken else ()
    sideways = sum(way != "up" for _, way in steps)
    worst = max((abs(row.off) for row in made.made.compared), default=0.0)
    return {
        "sizes": len(made.made.compared),
        "worst": f"{show.decimal(100 * worst, 1)} %",
        "up": len(steps) - sideways,
        "sideways": sideways,
    }


def _row(show: Shown, made: Making, number: int, part: Part) -> dict[str, Any]:
    measured = made.measured[part.name]
    return {
        "number": number,
        "key": part.name,
        "name": part_named(part.name, show),
        "way": WAYS[part.way],
        "material": part.material,
        "count": part.quantity,
        "note": part.note,
        "size": _size(show, measured.box) if any(measured.box) else "",
        "mass": show.mass(measured.mass * 1e3) if measured.mass else "",
        "drawn": has_drawing(part),
        "file": plain_name(part.name),
    }


def _size(show: Shown, box: tuple[float, float, float]) -> str:
    """The box about a part, to a tenth of a millimetre: finer than it is made, as fine as it is drawn."""
    imperial = show.choice.sizes == "imperial"
    told = [show.decimal(1e3 * x / (INCH if imperial else 1), 2 if imperial else 1) for x in box]
    return f"{' × '.join(told)} {'in' if imperial else 'mm'}"


def _costs(show: Shown, costs: Costs) -> dict[str, Any]:
    """Money for one habitat by batch, never without its range."""
    return {
        "currency": costs.prices.currency,
        "date": show.day(costs.prices.date),
        "note": costs.prices.note,
        "file": costs.prices.file,
        "rows": [_batch(show, one, complete=not costs.missing) for one in costs.batches],
        "missing": [f"{one.what} ({one.unit})" for one in costs.missing],
    }


def _batch(show: Shown, one: BatchCost, *, complete: bool) -> dict[str, Any]:
    sold = one.sale is not None and one.price_low is not None and one.price_high is not None
    return {
        "count": one.count,
        "complete": complete,
        "unit": _money(show, one.unit, one.low, one.high),
        "price": _money(show, one.sale.price, one.price_low, one.price_high) if one.sale and sold else None,
    }


def _money(show: Shown, value: Decimal, low: Decimal | None, high: Decimal | None) -> tuple[str, str]:
    """Money, and its range; with no more digits than the range leaves it."""
    from nestwright.climate.digits import decimals_within

    assert low is not None
    assert high is not None
    decimals = decimals_within(float(low), float(high), 2)
    told, down, up = (show.decimal(float(x), decimals) for x in (value, low, high))
    return told, show.figures(f"{down} to {up}") if down != up else ""


def _made(key: str) -> Making:
    made: Making | None = MADE.get(key)
    if made is None:
        raise HTTPException(404)
    return made


KEPT = {"cache-control": "private, max-age=86400"}
"""The address names all that it is of."""


@router.get("/habitats/{stem}/parts/{key}/view.glb")
def view(stem: str, key: str) -> Response:
    """All parts in the round: glTF 2.0, binary."""
    return Response(_made(key).view, media_type="model/gltf-binary", headers=KEPT)


@router.get("/habitats/{stem}/parts/{key}/{number}/{name}.{form}")
def drawn(stem: str, key: str, number: int, name: str, form: Literal["svg", "pdf"]) -> Response:
    """The drawing of a part."""
    made = _made(key)
    if not (0 <= number < len(made.assembly.parts) and has_drawing(made.assembly.parts[number])):
        raise HTTPException(404)
    try:
        content = drawing(made, number, form)
    except InputError:
        raise HTTPException(404) from None
    return Response(content, media_type="application/pdf" if form == "pdf" else "image/svg+xml", headers=KEPT)
