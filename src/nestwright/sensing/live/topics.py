"""Patterns of topics: MQTT's wildcards, and parts with a name of their own.

`bench/{logger}/{channel}` takes `bench/shelf/temperature` and names its parts; for the broker it is the filter
`bench/+/+`. `+` takes one level, `#` at the end all the rest (MQTT 3.1.1, OASIS Standard 2014, section 4.7).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

__all__ = ["PARTS", "Pattern", "PatternProblem", "overlap", "read_pattern"]

PARTS = ("logger", "channel")
"""Names that a part may have."""
_NAMED = re.compile(r"\{([^{}]*)\}")
_LONGEST = 65_535
"""Bytes of a topic filter (MQTT 3.1.1, section 4.7.3)."""


class PatternProblem(ValueError):  # noqa: N818 - turned into an InputError where the place is known
    """What is wrong with a pattern, and what is allowed."""

    def __init__(self, message: str, allowed: str = "") -> None:
        super().__init__(message)
        self.message, self.allowed = message, allowed


@dataclass(frozen=True)
class Pattern:
    """A pattern of topics by levels; a named part stands as "{name}"."""

    text: str
    levels: tuple[str, ...]

    @property
    def filter(self) -> str:
        """The filter that a broker understands."""
        return "/".join("+" if level.startswith("{") else level for level in self.levels)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of its parts."""
        return tuple(level[1:-1] for level in self.levels if level.startswith("{"))

    def match(self, topic: str) -> dict[str, str] | None:
        """The named parts of a topic, or None when the pattern does not take it.

        Examples
        --------
        >>> read_pattern("bench/{logger}/{channel}").match("bench/shelf/temperature")
        {'logger': 'shelf', 'channel': 'temperature'}
        >>> read_pattern("bench/#").match("bench")
        {}
        """
        steps = topic.split("/")
        # a wildcard at the beginning takes no topic of the broker's own (section 4.7.2)
        if steps[0].startswith("$") and self.levels[0] != steps[0]:
            return None
        if self.levels[-1] == "#":
            if len(steps) < len(self.levels) - 1:
                return None
        elif len(steps) != len(self.levels):
            return None
        named: dict[str, str] = {}
        for level, step in zip(self.levels, steps, strict=False):
            if level == "#":
                break
            if level.startswith("{"):
                named[level[1:-1]] = step
            elif level not in ("+", step):
                return None
        return named


def read_pattern(text: str) -> Pattern:
    """A pattern from its text. Raises PatternProblem."""
    if not text or "\0" in text or len(text.encode("utf-8", "replace")) > _LONGEST:
        raise PatternProblem("is empty or no topic", "as bench/{logger}/{channel}")
    levels = tuple(text.split("/"))
    for n, level in enumerate(levels):
        named = _NAMED.fullmatch(level)
        if named:
            if named[1] not in PARTS:
                raise PatternProblem(f"has a part of unknown name {level!r}", ", ".join(f"{{{p}}}" for p in PARTS))
        elif "{" in level or "}" in level:
            raise PatternProblem(f"a named part must be a whole level, and {level!r} is not", "as bench/{logger}/air")
        elif level == "#":
            if n != len(levels) - 1:
                raise PatternProblem("'#' must be the last level", "as bench/#")
        elif level != "+" and ("+" in level or "#" in level):
            raise PatternProblem(f"a wildcard must be a whole level, and {level!r} is not", "as bench/+/air or bench/#")
    pattern = Pattern(text, levels)
    if len(set(pattern.names)) < len(pattern.names):
        raise PatternProblem("names a part twice")
    return pattern


def overlap(one: Pattern, other: Pattern) -> bool:
    """Whether one topic could fit both patterns.

    Examples
    --------
    >>> overlap(read_pattern("bench/+/air"), read_pattern("bench/shelf/#"))
    True
    >>> overlap(read_pattern("bench/+/air"), read_pattern("bench/+/soil"))
    False
    """
    a, b = one.filter.split("/"), other.filter.split("/")
    if any(x[0] in ("+", "#") and y[0].startswith("$") for x, y in ((a, b), (b, a))):
        return False
    for k in range(max(len(a), len(b))):
        here, there = (levels[k] if k < len(levels) else None for levels in (a, b))
        if "#" in (here, there):
            return True
        if here is None or there is None or (here != there and "+" not in (here, there)):
            return False
    return True
