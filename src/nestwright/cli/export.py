"""`nestwright export`: the whole record as open files, and back."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nestwright.cli.record import AsJson, InWorkshop, tell, workshop_of

__all__ = ["export"]


def export(
    folder: Annotated[Path, typer.Argument(help="The folder of the open files.", show_default=False)],
    back: Annotated[
        Path | None,
        typer.Option("--back", help="Make a workshop in this new folder from the open files.", show_default=False),
    ] = None,
    workshop: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Write the record as CSV, Parquet and TOML into a new folder; with --back make a workshop from such a folder.

    Nothing is lost on the way and back. Designs, rooms and photographs are files already: `nestwright backup` takes
    them too.
    """
    from nestwright.cli.progress import progress_bar
    from nestwright.workshop.exchange import export_record, import_record

    with progress_bar(json) as bar:
        task = bar.add_task("readings", total=1.0)

        def told(share: float) -> None:
            bar.update(task, completed=share)

        if back is None:
            rows = export_record(workshop_of(workshop), folder, told)
        else:
            rows = import_record(folder, back, told)
    into = folder if back is None else back
    tell(json, {"folder": str(into), "rows": rows}, f"Written: {into}, {sum(rows.values()):,} rows")
