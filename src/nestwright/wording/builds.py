"""How a build's checks stand, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nestwright.workshop.builds import Made

__all__ = ["checks_state", "outcome"]


def outcome(passed: bool | None) -> str:
    return "still to do" if passed is None else "passed" if passed else "failed"


def checks_state(one: Made) -> str:
    last = {q["what"]: q["passed"] for q in one.checks}  # a later look at the same point counts
    failed = sum(passed is not None and not passed for passed in last.values())
    left = sum(passed is None for passed in last.values())
    if failed:
        return f"{failed} failed"
    return f"{left} to do" if left else "passed" if one.quality else "none"
