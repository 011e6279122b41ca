"""`nestwright dossier`: a design, its proof and the record of its builds as one paper."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nestwright.cli.options import PaperLanguage
from nestwright.cli.record import AsJson, InWorkshop, workshop_of

__all__ = ["dossier"]


def dossier(
    habitat: Annotated[str, typer.Argument(help="The design's file in the workshop.", show_default=False)],
    build: Annotated[
        list[str] | None, typer.Option("--build", help="This build only; may be given again.", show_default=False)
    ] = None,
    room: Annotated[str, typer.Option("--room", help="Room of the proof.")] = "21 degC, 45 %",
    year: Annotated[bool, typer.Option("--year", help="Prove it through the room's whole record.")] = False,
    out: Annotated[Path, typer.Option("--out", help="The PDF to write.")] = Path("dossier.pdf"),
    language: PaperLanguage = "en",
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Write a design's dossier: drawing, proof, builds, dry runs, colonies, failures, judgements, files."""
    from nestwright.cli.climate import run_year
    from nestwright.cli.output import print_json
    from nestwright.cli.progress import progress_bar
    from nestwright.climate.rooms import read_room
    from nestwright.files import check_place, write_whole
    from nestwright.habitat.file import read_habitat
    from nestwright.papers.dossier_made import make_dossier
    from nestwright.papers.words import words_of
    from nestwright.wording.proof import limit_rows
    from nestwright.workshop.designs import design_file

    workshop = workshop_of(folder)
    words_of(language)
    check_place(out, ".pdf")
    place = design_file(habitat, workshop.folder, field="habitat")
    file = place.relative_to(workshop.folder.resolve()).as_posix()
    design = read_habitat(workshop.folder / file)
    run = run_year(design, read_room(room), quiet=json) if year else None
    with progress_bar(json) as bar:
        task = bar.add_task("proving (the first time this takes a minute)", total=1.0)
        made = make_dossier(
            workshop, file, room, lambda proof: limit_rows(proof, year=year), serials=build or (), run=run,
            language=language, report=lambda share, words: bar.update(task, completed=share, description=words),
        )  # fmt: skip
        bar.update(task, completed=1.0)
    write_whole(out, made.pdf)
    day, proof, record = made.day, made.proof, made.record
    if json:
        print_json({"file": str(out), "day": day.isoformat(), "proof": proof.to_dict(), **record.to_dict()})
        return
    verdict = "holds" if proof.holds else "does not hold"
    print(f"{design.name}, revision {design.revision or 'none told'}: {verdict} in {proof.room}")
    print(f"Written: {out}")
