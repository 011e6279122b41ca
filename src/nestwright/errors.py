"""The one error that a user's input can raise."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, TypeVar

T = TypeVar("T")


class InputError(Exception):
    """Input that cannot be used: says where, what was found, what is allowed and the nearest valid name."""

    def __init__(
        self,
        message: str,
        *,
        file: str = "",
        line: int = 0,
        field: str = "",
        found: str = "",
        allowed: str = "",
        nearest: str = "",
    ) -> None:
        super().__init__(message)
        self.message, self.file, self.line, self.field = message, file, line, field
        self.found, self.allowed, self.nearest = found, allowed, nearest

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}" if self.file and self.line else self.file
        parts = [f"{place}: " if place else "", f"{self.field}: " if self.field else "", self.message]
        if self.found:
            parts.append(f"; found {self.found}")
        if self.allowed:
            parts.append(f"; allowed: {self.allowed}")
        if self.nearest:
            parts.append(f"; did you mean {self.nearest!r}?")
        return "".join(parts)


class FileError(InputError):
    """All errors of one file, each on a line of its own; the fields are those of the first."""

    def __init__(self, errors: list[InputError]) -> None:
        first = errors[0]
        super().__init__(
            first.message,
            file=first.file,
            line=first.line,
            field=first.field,
            found=first.found,
            allowed=first.allowed,
            nearest=first.nearest,
        )
        self.errors = tuple(errors)

    def __reduce__(self) -> tuple[type[FileError], tuple[list[InputError]]]:
        # it comes back from other processes
        return FileError, (list(self.errors),)

    def __str__(self) -> str:
        return "\n".join(str(e) for e in self.errors)


class Gathered:
    """What is wrong with the parts of one thing, so that all of it is told at once and not the first only."""

    def __init__(self) -> None:
        self.errors: list[InputError] = []

    def tried(self, call: Callable[..., T], *arguments: Any) -> T | None:
        """What the call gives; None where it refuses, and the refusal is kept."""
        try:
            return call(*arguments)
        except InputError as error:
            self.add(error)
        return None

    def add(self, error: InputError) -> None:
        self.errors += getattr(error, "errors", None) or [error]

    def tell(self) -> None:
        """Raises InputError for one that was kept, FileError for several."""
        if self.errors:
            raise self.errors[0] if len(self.errors) == 1 else FileError(self.errors)


def nearest_name(name: str, known: Iterable[str]) -> str:
    """Closest of the known names to a misspelt one, or "" when none is close."""
    import difflib

    found = difflib.get_close_matches(name, list(known), n=1, cutoff=0.5)
    return found[0] if found else ""
