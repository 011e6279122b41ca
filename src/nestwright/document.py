"""A TOML file that a person edits, as it stands: its tables and the line of every key."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from nestwright.errors import InputError
from nestwright.positions import line_numbers

__all__ = ["Document", "load_document", "read_document"]

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
        When the file cannot be read or is no TOML; with the line of the fault.
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
        raise InputError(f"cannot be read: {(error.strerror or 'error').lower()}", file=shown) from None
    except ValueError:  # a NUL in the path
        raise InputError("is not the name of a file", file=shown.replace("\0", "?")) from None
    return load_document(text, shown)


def load_document(text: str, path: str = "") -> Document:
    """As `read_document`, from a text."""
    try:
        tables = tomllib.loads(text)
    except RecursionError:
        raise InputError("is nested too deeply", file=path) from None
    except ValueError as error:
        message = str(error)
        match = re.search(r"\(at line (\d+), column (\d+)\)", message)
        line = int(match[1]) if match else text.count("\n") + 1
        message = re.sub(r"\s*\(at [^)]*\)", "", message)
        raise InputError(f"is not valid TOML: {message[:1].lower()}{message[1:]}", file=path, line=line) from None
    return Document(tables, line_numbers(text), path)
