"""`nestwright section`: the cross-section of a habitat."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nestwright.cli.climate import ROOM_HELP


def section(
    file: Annotated[Path, typer.Argument(help="The habitat file.", show_default=False)],
    room: Annotated[str | None, typer.Option("--room", help=ROOM_HELP, show_default=False)] = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", help="The picture, as .svg or .png; else section.svg here.", show_default=False),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the outlines as JSON; draws only with --out.")] = False,
) -> None:
    """Draw the cross-section of a habitat, true to scale.

    With --room the chambers are coloured by their humidity and the openings show their air and vapour, steady in
    that room's mean air.
    """
    from nestwright.cli.pictures import check_picture_name

    target = out if out is not None else None if json else Path("section.svg")
    if target is not None:
        check_picture_name(target)

    from nestwright.habitat.file import read_habitat
    from nestwright.habitat.section import section_shapes

    habitat = read_habitat(file)
    proof = None
    if room is not None:
        from nestwright.climate.proof import prove
        from nestwright.climate.rooms import read_room

        proof = prove(habitat, read_room(room))
    if target is not None:
        from nestwright.charts.save import picture_bytes
        from nestwright.charts.section import section_svg
        from nestwright.files import write_whole

        write_whole(target, picture_bytes(section_svg(habitat, proof), target.suffix.lower()))
    if json:
        from nestwright.cli.output import print_json

        found = section_shapes(habitat).to_dict() | {"habitat": habitat.name, "revision": habitat.revision}
        print_json(found if proof is None else found | {"proof": proof.to_dict()})
    else:
        print(f"Written: {target}")
