"""What is wrong with input, as data: one shape, whichever command was given it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from nestwright.errors import FileError, InputError

if TYPE_CHECKING:
    from nestwright.habitat.findings import Finding

__all__ = ["as_findings", "print_faults", "report"]


def as_findings(errors: Iterable[InputError]) -> list[Finding]:
    """Errors as findings, one each."""
    from nestwright.habitat.findings import Finding

    each = [one for error in errors for one in (error.errors if isinstance(error, FileError) else (error,))]
    return [Finding("error", e.message, e.line, e.field, e.found, e.allowed, e.nearest, e.file) for e in each]


def report(files: Iterable[tuple[str, Sequence[Finding]]]) -> dict[str, Any]:
    """What was found of each file, as `nestwright check --json` prints it."""
    told = [
        {"file": file, "ok": all(f.severity != "error" for f in found), "findings": [f.to_dict() for f in found]}
        for file, found in files
    ]
    return {"ok": all(one["ok"] for one in told), "files": told}


def print_faults(error: InputError) -> None:
    """Print what kept a command from its work, on one line: some print a document a line."""
    found = as_findings([error])
    files = {one.file: [other for other in found if other.file == one.file] for one in found}
    print(json.dumps(report(files.items()), ensure_ascii=False), flush=True)
