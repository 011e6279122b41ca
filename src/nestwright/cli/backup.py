"""`nestwright backup`: the whole workshop in one verified file, and back."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nestwright.cli.record import AsJson, InWorkshop, tell, workshop_of
from nestwright.errors import InputError

__all__ = ["backup"]


def backup(
    file: Annotated[Path, typer.Argument(help="The backup: a .zip file.", show_default=False)],
    restore: Annotated[
        Path | None, typer.Option("--restore", help="Unpack it into this new folder.", show_default=False)
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace a backup that is there already.")] = False,
    verify: Annotated[bool, typer.Option("--verify", help="Only hold the backup against its own sums.")] = False,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Copy the whole workshop into one file and verify it; it may be in use meanwhile. Or restore one."""
    from nestwright.cli.output import print_json
    from nestwright.cli.progress import progress_bar
    from nestwright.workshop import backup as copies

    if verify:
        contents = copies.verify(file)
        names = contents["sha256"]
        tell(json, {"file": str(file), "files": len(names)}, f"{file}: sound, {len(names)} files")
        return
    if file.suffix.lower() != ".zip":
        raise InputError("a backup is a .zip file", file=str(file), found=file.suffix or "no ending", allowed=".zip")
    source = workshop_of(folder) if restore is None else None
    if source is not None and file.exists() and not force:
        raise InputError("there is a file already", file=str(file), allowed="another name, or --force")
    with progress_bar(json) as bar:
        task = bar.add_task("restoring" if restore else "copying", total=1.0)

        def told(share: float) -> None:
            bar.update(task, completed=share)

        if source is not None:
            done = copies.back_up(source, file, told)
        else:
            assert restore is not None
            done = copies.restore(file, restore, told)
    if json:
        print_json(done)
        return
    rows = sum(n for name, n in done.rows.items() if name not in ("alembic_version", "rollup"))
    what = f"Restored into {restore}" if restore else f"Written and verified: {file}"
    print(f"{what}: {done.files} files, {rows:,} rows of the record")
