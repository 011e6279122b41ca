"""`nestwright caresheet`: what a buyer has to know, from this design's own figures."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from nestwright.papers.care_made import SoldDesign


def caresheet(
    of: Annotated[str, typer.Argument(help="A build of the workshop, or a habitat file.", show_default=False)],
    room: Annotated[str, typer.Option("--room", help="The buyer's room.")] = "21 degC, 45 %",
    out: Annotated[Path, typer.Option("--out", help="Written: .pdf, or .html for a phone.")] = Path("care-sheet.pdf"),
    language: Annotated[str, typer.Option("--language", help="en or de.")] = "en",
    large: Annotated[bool, typer.Option("--large", help="Large print.")] = False,
    folder: Annotated[
        Path | None, typer.Option("--workshop", help="The workshop's folder; else the one that you stand in.")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Write a care sheet for the buyer of a habitat: where it may stand, water, leaves, bells, signs, cautions."""
    from datetime import date

    from nestwright.cli.progress import progress_bar
    from nestwright.files import check_place, write_whole
    from nestwright.papers.care import care_html, care_pdf
    from nestwright.papers.care_made import make_care
    from nestwright.papers.words import words_of

    check_place(out, ".pdf", ".html")
    words_of(language)
    design = _found(of, folder)
    with progress_bar(json) as bar:
        task = bar.add_task("proving (the first time this takes a minute)", total=1.0)

        def report(share: float, words: str) -> None:
            bar.update(task, completed=share, **({"description": words} if words else {}))

        care, field = make_care(design, room, report)
    made = care_html(care, field, language).encode() if out.suffix.lower() == ".html" else None
    write_whole(out, made if made is not None else care_pdf(care, field, date.today(), language, large=large))
    if json:
        from nestwright.cli.output import print_json

        print_json({**care.to_dict(), "file": str(out)})
        return
    where = "its own proof does not hold in this room: the sheet says so" if not care.holds else "holds in this room"
    print(f"{care.habitat}, revision {care.revision}: {where}")
    print(f"Written: {out}")


def _found(of: str, folder: Path | None) -> SoldDesign:
    """The design that is meant; serial, colony and the days between which its bell is full where a build is named."""
    from nestwright.cli.dryrun import find_made
    from nestwright.habitat.file import read_habitat

    if find_made(Path(of), folder) is None:
        return read_habitat(of), "", "", None
    from nestwright.cli.record import workshop_of
    from nestwright.papers.care_made import design_of_build

    return design_of_build(workshop_of(folder), of)
