"""What a check of a design finds: one fault or one caution, with its place in the file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from nestwright.errors import InputError

__all__ = ["Finding", "mm"]


@dataclass(frozen=True)
class Finding:
    """An "error" makes a design unusable, a "warning" does not. `field` is a key such as "vent.crown.count"."""

    severity: Literal["error", "warning"]
    message: str
    line: int = 0
    field: str = ""
    found: str = ""
    allowed: str = ""
    nearest: str = ""
    file: str = ""

    def as_error(self) -> InputError:
        """The same as the error that a user's input raises."""
        return InputError(
            self.message,
            file=self.file,
            line=self.line,
            field=self.field,
            found=self.found,
            allowed=self.allowed,
            nearest=self.nearest,
        )

    def __str__(self) -> str:
        return str(self.as_error())

    def to_dict(self) -> dict[str, Any]:
        """Keys: severity, message, file, line, field, found, allowed, nearest."""
        return {
            "severity": self.severity,
            "message": self.message,
            "file": self.file,
            "line": self.line,
            "field": self.field,
            "found": self.found,
            "allowed": self.allowed,
            "nearest": self.nearest,
        }


def mm(length: float) -> str:
    """A length for a message, in mm."""
    return f"{length * 1e3:.4g} mm"
