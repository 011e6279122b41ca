"""`nestwright check FILE...`: is a habitat file right? Every fault with its line; cautions do not fail."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer


def check(
    files: Annotated[list[Path], typer.Argument(help="Habitat files.", show_default=False)],
    as_json: Annotated[bool, typer.Option("--json", help="Print the findings as JSON.")] = False,
) -> None:
    """Check habitat files: units, names, sizes, places, air paths. Exit code 2 when one has a fault."""
    from nestwright.habitat.file import check_file

    results = [(str(path), check_file(path)) for path in files]
    failed = any(f.severity == "error" for _, found in results for f in found)
    if as_json:
        report = [
            {"file": path, "ok": all(f.severity != "error" for f in found), "findings": [f.to_dict() for f in found]}
            for path, found in results
        ]
        typer.echo(json.dumps({"ok": not failed, "files": report}, indent=2, ensure_ascii=False))
    else:
        for path, found in results:
            for f in found:
                if f.severity == "error":
                    typer.echo(str(f), err=True)
                else:
                    typer.echo(f"{f} (warning)")
            if all(f.severity != "error" for f in found):
                typer.echo(f"{path}: in order")
    if failed:
        raise typer.Exit(2)
