"""`nestwright photo`: a garden measured from a photograph, and the marker sheet for it."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nestwright.cli.options import number
from nestwright.cli.photo_keep import keep_photos
from nestwright.cli.record import InWorkshop, tell, workshop_of
from nestwright.errors import InputError

if TYPE_CHECKING:
    from nestwright.sensing.photo import Asked, Bell, GardenPhoto, Picture

SOURCES = {
    "scale": "scale: print, markers or clicks",
    "place": "distance from the sheet",
    "outline": "where the edge lies",
    "tilt": "tilt of the camera",
    "shape": "what the outline leaves open",
    "asymmetry": "difference of both halves",
    "depth": "depth, which is not seen",
    "heights": "difference of both heights",
}


def photo(
    image: Annotated[
        list[Path] | None,
        typer.Argument(help="A picture of the garden, or two from about right angles.", show_default=False),
    ] = None,
    sheet: Annotated[
        Path | None, typer.Option("--sheet", help="Write the marker sheet to print, as .pdf.", show_default=False)
    ] = None,
    paper: Annotated[str, typer.Option("--paper", help="Paper of the sheet, a4 or letter.")] = "a4",
    line: Annotated[
        str | None,
        typer.Option("--line", help='What the control line measures on the print, "99 mm".', show_default=False),
    ] = None,
    bell: Annotated[
        str | None,
        typer.Option(
            "--bell",
            help='Inside of the bell, "diameter 75 mm, height 55 mm", with ", dome" if round on top.',
            show_default=False,
        ),
    ] = None,
    width: Annotated[
        str | None,
        typer.Option(
            "--width", help='Widest that the garden can be where there is no bell, "80 mm".', show_default=False
        ),
    ] = None,
    behind: Annotated[
        str | None,
        typer.Option("--behind", help='From the sheet to the middle of the garden, "45 mm".', show_default=False),
    ] = None,
    scale: Annotated[
        str | None,
        typer.Option(
            "--scale",
            help='Without a sheet: two points on a known length, "120,800,640,800,75 mm", in pixels.',
            show_default=False,
        ),
    ] = None,
    tilt: Annotated[
        float | None,
        typer.Option(
            "--tilt",
            help="With --scale: how far the camera looked down, deg.",
            parser=number("--tilt", -20, 45),
            metavar="DEG",
            show_default=False,
        ),
    ] = None,
    around: Annotated[
        str | None,
        typer.Option("--around", help='A box with the garden in it, "x1,y1,x2,y2", in pixels.', show_default=False),
    ] = None,
    grey: Annotated[
        str | None,
        typer.Option("--grey", help='A point on a grey card, "x,y", in pixels.', show_default=False),
    ] = None,
    outline: Annotated[
        Path | None,
        typer.Option("--outline", help="A corrected outline, as --out writes it (.json).", show_default=False),
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", help="Write the result, with the outline, as .json.", show_default=False)
    ] = None,
    picture: Annotated[
        Path | None, typer.Option("--picture", help="Draw the outline into the picture, as .png.", show_default=False)
    ] = None,
    colony: Annotated[
        str | None,
        typer.Option("--colony", help="Keep the picture in the record of this colony.", show_default=False),
    ] = None,
    keep: Annotated[bool, typer.Option("--keep", help="With --colony: only keep it, measure nothing.")] = False,
    visit: Annotated[
        bool, typer.Option("--visit", help="With --colony: its garden is a visit of the day it was taken.")
    ] = False,
    folder: InWorkshop = None,
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Measure a garden from a photograph with the marker sheet in it, or with two points on a known length.

    Print the sheet with --sheet. The garden's outline is proposed: look at it with --picture, correct the file of --out
    and give it back with --outline.
    """
    images = list(image or [])
    if sheet is not None:
        if images:
            raise InputError("stands beside a picture", field="--sheet", allowed="one or the other")
        write_sheet(sheet, paper)
        return
    if not 1 <= len(images) <= 2:
        found = "none" if not images else f"{len(images)} pictures"
        raise InputError("needs one picture, or two", found=found, allowed="or --sheet FILE.pdf to print the sheet")
    if colony is None and (keep or visit):
        raise InputError("needs a colony", field="--keep" if keep else "--visit", allowed="with --colony NAME")
    if colony is not None:
        workshop_of(folder)
        if keep:
            tell_kept(json, keep_photos(images, colony, None, folder, visit=visit))
            return
    _check_places(out, picture)
    if len(images) == 2:
        for flag, given in (("--scale", scale), ("--around", around), ("--outline", outline), ("--grey", grey)):
            if given is not None:
                raise InputError("belongs to one picture", field=flag, allowed="two pictures with the sheet in both")
    if tilt is not None and scale is None:
        raise InputError("is read off the sheet", field="--tilt", allowed="with --scale only")
    from nestwright.sensing.photo import Asked, measure_photo, read_outline, read_picture

    limits = _limits(bell, width)
    first = read_picture(images[0])
    asked = Asked(
        bell=limits,
        behind=None if behind is None else _length("--behind", behind),
        scale=None if scale is None else parse_scale(scale),
        tilt=tilt,
        around=None if around is None else _box(around),
        grey=None if grey is None else _point(grey),
        outline=None if outline is None else read_outline(outline, first),
    )
    if line is not None:
        asked = _with_line(asked, line)
    second = read_picture(images[1]) if len(images) == 2 else None
    result = measure_photo(first, asked, second)
    if out is not None:
        _write_result(result, out)
    if picture is not None:
        draw_outline(first, result, picture)
    kept = {} if colony is None else keep_photos(images, colony, result, folder, visit=visit)
    if json:
        from nestwright.cli.output import print_json

        print_json(result.to_dict() | ({"kept": kept} if kept else {}))
        return
    print_photo(result)
    if kept:
        tell_kept(False, kept)
    for path in (out, picture):
        if path is not None:
            print(f"Written: {path}")


def tell_kept(json: bool, kept: dict[str, Any]) -> None:
    """Say where photographs are kept."""
    day = f", and its garden as a visit of {kept['visit']}" if kept["visit"] else ""
    tell(json, {"kept": kept}, f"Kept in the record of {kept['colony']}: {', '.join(kept['files'])}{day}")


def write_sheet(path: Path, paper: str) -> None:
    """Write the marker sheet. Raises InputError."""
    from nestwright.files import check_place, write_whole
    from nestwright.sensing.photo import paper_of, sheet_pdf

    own = paper_of(paper)
    check_place(path, ".pdf", field="--sheet")
    write_whole(path, sheet_pdf(own))
    print(f"Written: {path}, {own.name}. Print at 100 %, in colour, and measure the line of 100 mm.")


def _check_places(out: Path | None, picture: Path | None) -> None:
    from nestwright.files import check_place

    for flag, path, suffix in (("--out", out, ".json"), ("--picture", picture, ".png")):
        if path is not None:
            check_place(path, suffix, field=flag)


def _length(option: str, text: str) -> float:
    """mm from "45 mm"."""
    from nestwright.units import UnitProblem, parse_quantity

    try:
        return 1000.0 * parse_quantity(text.strip(), "length")
    except UnitProblem as problem:
        raise InputError(
            problem.message, field=option, found=problem.found, allowed=problem.allowed, nearest=problem.nearest
        ) from None


def _with_line(asked: Asked, text: str) -> Asked:
    from dataclasses import replace

    measured = _length("--line", text)
    if not 80.0 <= measured <= 120.0:
        raise InputError(
            "is far from 100 mm: print the sheet at 100 %", field="--line", found=text, allowed="80 to 120 mm"
        )
    return replace(asked, line=measured)


def _limits(bell: str | None, width: str | None) -> Bell | None:
    """The space for the garden from --bell or --width."""
    from nestwright.sensing.photo import Bell

    if bell is not None and width is not None:
        raise InputError("stands beside --bell", field="--width", allowed="one or the other")
    if width is not None:
        return Bell(_length("--width", width))
    return None if bell is None else parse_bell(bell)


def parse_bell(text: str) -> Bell:
    """The inside of a bell from "diameter 75 mm, height 55 mm, dome". Raises InputError."""
    from nestwright.errors import nearest_name
    from nestwright.sensing.photo import Bell

    allowed = "'diameter 75 mm, height 55 mm', with ', dome' if it is round on top"
    told: dict[str, float] = {}
    dome = False
    for part in text.split(","):
        key, _, rest = part.strip().partition(" ")
        if key in ("dome", "cylinder") and not rest:
            dome = key == "dome"
        elif key in ("diameter", "height") and key not in told:
            told[key] = _length("--bell", rest)
        else:
            near = nearest_name(key, ("diameter", "height", "dome", "cylinder"))
            raise InputError("cannot be read", field="--bell", found=repr(part.strip()), allowed=allowed, nearest=near)
    if set(told) != {"diameter", "height"}:
        raise InputError("needs both diameter and height", field="--bell", found=repr(text), allowed=allowed)
    return Bell(told["diameter"], told["height"], dome)


def _numbers(option: str, text: str, count: int, allowed: str) -> list[float]:
    parts = text.split(",")
    try:
        made = [float(part) for part in parts]
    except ValueError:
        made = []
    if len(made) != count or not all(math.isfinite(v) for v in made):
        raise InputError("cannot be read", field=option, found=repr(text), allowed=allowed)
    return made


def parse_scale(text: str) -> tuple[float, float, float, float, float]:
    """x1, y1, x2, y2 (px) and the length between (mm) from "120,800,640,800,75 mm". Raises InputError."""
    points, _, length = text.rpartition(",")
    x1, y1, x2, y2 = _numbers("--scale", points, 4, "x1,y1,x2,y2,LENGTH, as '120,800,640,800,75 mm'")
    return x1, y1, x2, y2, _length("--scale", length)


def _box(text: str) -> tuple[float, float, float, float]:
    x1, y1, x2, y2 = _numbers("--around", text, 4, "x1,y1,x2,y2, as '300,200,900,800'")
    return x1, y1, x2, y2


def _point(text: str) -> tuple[float, float]:
    x, y = _numbers("--grey", text, 2, "x,y, as '420,310'")
    return x, y


def _write_result(result: GardenPhoto, path: Path) -> None:
    import json

    from nestwright.cli.output import as_json
    from nestwright.files import write_whole

    write_whole(path, json.dumps(as_json(result.to_dict()), indent=1) + "\n")


def draw_outline(taken: Picture, result: GardenPhoto, path: Path) -> None:
    """Draw the outline into the picture and write it; the file carries nothing but the picture."""
    import io

    from PIL import Image, ImageDraw

    from nestwright.files import write_whole

    image = Image.fromarray(taken.pixels)
    points: list[Any] = [((x + 0.5) / taken.shrink - 0.5, (y + 0.5) / taken.shrink - 0.5) for x, y in result.outline_px]
    drawn = ImageDraw.Draw(image)
    wide = max(2, round(max(image.size) / 500))
    # white under colour: seen on dark and on light
    for colour, stroke in (((255, 255, 255), wide + 2), ((220, 0, 140), wide)):
        drawn.line([*points, points[0]], fill=colour, width=stroke, joint="curve")
    made = io.BytesIO()
    image.save(made, "PNG")
    write_whole(path, made.getvalue())


def print_photo(result: GardenPhoto) -> None:
    """Print a measurement: volume with its range, sizes, colours, sources of the error, notes."""
    from nestwright.cli.output import console, heading, plain, table

    out = console()
    low, high = (rounded(x, result.high - result.low) for x in (result.low, result.high))
    volume = rounded(result.volume_ml, result.high - result.low)
    out.print(f"[bold]Garden: {volume} mL[/bold], nine in ten between {low} and {high} mL")
    if result.fill is not None:
        out.print(f"Fill: {100 * result.fill:.0f} % of the inside of the bell")
    if result.taken:
        out.print(f"Taken: {plain(result.taken.replace('T', ' '))}")
    out.print(
        f"Height {result.height_mm:.0f} mm, width {result.width_mm:.0f} mm, silhouette {result.area_cm2:.3g} cm2; "
        f"{result.scale_mm_per_px:.2g} mm a pixel"
    )
    by = f"{result.markers} markers" if result.markers else "two points"
    down = f"{abs(result.tilt_deg):.0f} deg {'down' if result.tilt_deg >= 0 else 'up'}"
    out.print(f"Camera: {result.distance_mm:.0f} mm away, looking {down}, by {by}")
    if result.colours:
        out.print(heading("Colours, % with the error of nine in ten"))
        names = ["white", "grey", "brown", "green", "other"]
        rows = [
            [c.region, *(f"{100 * getattr(c, n):.0f} ± {100 * c.error[n]:.0f}" for n in names)] for c in result.colours
        ]
        out.print(table(["part", *names], rows))
    out.print(heading("Where the error comes from, % of the volume"))
    rows = [
        [SOURCES.get(n, n), f"{100 * v:.1f}"] for n, v in sorted(result.parts.items(), key=lambda p: -p[1]) if v > 5e-4
    ]
    out.print(table(["source", "nine in ten"], rows))
    for note in result.notes:
        out.print(f"Note: {plain(note)}")


def rounded(x: float, spread: float) -> str:
    """A figure with the digits that its range allows: a tenth of the range is the last."""
    digits = -math.floor(math.log10(max(spread, 1e-6) / 10))
    return f"{x:.{min(max(digits, 0), 2)}f}" if digits >= 0 else f"{round(x, digits):.0f}"
