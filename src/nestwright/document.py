"""A TOML file that a person edits, as it stands: its tables and the line of every key."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from nestwright.errors import InputError, nearest_name
from nestwright.positions import line_numbers, line_of
from nestwright.units import shown

__all__ = ["FORM", "Document", "load_document", "neighbour", "read_document"]

FORM = 1
"""The latest form of the files that carry one (docs/formats.md)."""
_LARGEST = 2_000_000
"""Bytes; such a file is some kilobytes, so a larger one is another file given by mistake."""


@dataclass(frozen=True)
class Document:
    """A file as it stands: its tables, and the line of every key."""

    tables: dict[str, Any]
    lines: dict[str, int] = field(default_factory=dict)
    path: str = ""


def read_document(path: str | Path) -> Document:
    """Read the TOML text of a file, without judging what it says.

    Raises
    ------
    InputError
        When the file cannot be read, is no TOML, or of a later form; with the line of the fault.
    """
    shown = str(path)
    try:
        with open(path, "rb") as file:
            data = file.read(_LARGEST + 1)
        if len(data) > _LARGEST:
            raise InputError("is too large for a file of this kind", file=shown, allowed="at most 2 MB")
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        raise InputError("is not text in UTF-8", file=shown, line=line) from None
    except OSError as error:
        near = neighbour(path) if isinstance(error, FileNotFoundError) else ""
        raise InputError(f"cannot be read: {(error.strerror or 'error').lower()}", file=shown, nearest=near) from None
    except ValueError:  # a NUL in the path
        raise InputError("is not the name of a file", file=shown.replace("\0", "?")) from None
    return load_document(text, shown)


def neighbour(path: str | Path) -> str:
    """The file in the same folder whose name is nearest to one that is not there; else "". A name without ending is
    compared without endings."""
    wanted = Path(path)
    try:
        names = [p.name for p in wanted.parent.iterdir() if p.is_file() and not p.name.startswith(".")]
    except (OSError, ValueError):
        return ""
    stems = {n if wanted.suffix else Path(n).stem: n for n in sorted(names)}
    near = nearest_name(wanted.name[:200], stems)
    return str(wanted.parent / stems[near]) if near else ""


def load_document(text: str, path: str = "") -> Document:
    """As `read_document`, from a text."""
    # the reader's time grows with the square of a key's parts: minutes, within the bytes that a file may have
    if deep := _DEEP.search(text):
        raise InputError("is nested too deeply", file=path, line=text.count("\n", 0, deep.start()) + 1)
    try:
        tables = tomllib.loads(text)
    except RecursionError:
        raise InputError("is nested too deeply", file=path) from None
    except ValueError as error:
        message = str(error)
        match = re.search(r"\(at line (\d+), column (\d+)\)", message)
        line = int(match[1]) if match else text.count("\n") + 1
        if not match and (digits := re.search(r"\d{4300}", text)):  # such a number is refused without its place
            line = text.count("\n", 0, digits.start()) + 1
        message = re.sub(r"\s*\(at [^)]*\)", "", message)
        message, allowed = _explained(message, text, line)
        found = shown(text.split("\n")[line - 1].strip()) if match else ""
        raise InputError(message, file=path, line=line, found=found, allowed=allowed) from None
    document = Document(tables, line_numbers(text), path)
    form = tables.get("format")
    if isinstance(form, int) and not isinstance(form, bool) and form > FORM:
        raise InputError(
            "is of a later form than this nestwright reads", file=path, line=line_of(document.lines, ("format",)),
            field="format", found=str(form), allowed=f"up to {FORM}; a later nestwright reads it",
        )  # fmt: skip
    return document


_DEEP = re.compile(r"""(?<![\w"'.-])(?:[\w"'-]++[ \t]*+\.[ \t]*+){200}""")
_DAY_LIKE = re.compile(r"""\s*[\w.-]+\s*=\s*(?:\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.]\d{2,4})(?!\d)""")
_BARE = re.compile(r"""\s*[\w.-]+\s*=\s*[^"'\[{\s][^"']*$""")


def _explained(message: str, text: str, line: int) -> tuple[str, str]:
    """A fault of the TOML reader in words of its own, and what may stand there instead."""
    told = f"is not valid TOML: {message[:1].lower()}{message[1:]}"
    if message.startswith("Exceeds the limit"):
        return "is not valid TOML: a number has too many digits", "numbers of some digits"
    at = text.split("\n")[line - 1]
    if message.startswith(("Invalid", "Expected newline")) and _DAY_LIKE.match(at):
        return "is not valid TOML: not a day of the calendar", "a day of the calendar as 2025-11-03"
    if message.startswith(("Invalid value", "Expected newline")) and _BARE.match(at):
        return told, 'a text or a value with a unit in quotes, as "32 mL"; a number or a day without'
    if message.startswith("Expected '='"):
        return told, "key = value, [table] or [[table]]"
    if message.startswith(("Cannot overwrite", "Cannot declare")):
        return (
            f"is not valid TOML: the same is told twice ({message[:1].lower()}{message[1:]})",
            "each key once in its table",
        )
    return told, ""
