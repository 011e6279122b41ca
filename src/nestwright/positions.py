"""Where each key and value of a TOML text stands: dotted path such as "vent[2].count" to line number.

tomllib reads values without their places. This scanner runs over text that tomllib has already accepted, so it need
not judge the text, only walk it.
"""

from __future__ import annotations

import re

__all__ = ["line_numbers", "line_of", "path_text"]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]\}\n#]+")
_BLANK = re.compile(r"[ \t\r]*")
_DEEPEST = 32
"""Steps of a path that are kept: far more than a file has, few enough that a senseless one is walked at once."""
_STRINGS = (
    ('"""', re.compile(r'"""(?:[^"\\]|\\.|"(?!"")|""(?!"))*"{3,5}', re.S)),
    ("'''", re.compile(r"'''.*?'{3,5}", re.S)),
    ('"', re.compile(r'"(?:[^"\\\n]|\\.)*"')),
    ("'", re.compile(r"'[^'\n]*'")),
)


def path_text(path: tuple[str | int, ...]) -> str:
    """("vent", 2, "count") as "vent[2].count"."""
    out = ""
    for step in path:
        out += f"[{step}]" if isinstance(step, int) else f".{step}" if out else step
    return out


def line_of(lines: dict[str, int], path: tuple[str | int, ...]) -> int:
    """Line of a path, or of the nearest thing around it that has one; 0 when there is none."""
    for n in range(len(path), 0, -1):
        line = lines.get(path_text(path[:n]))
        if line:
            return line
    return 0


def line_numbers(text: str) -> dict[str, int]:
    """Line (from 1) of every table, key and array item of a valid TOML text, by dotted path.

    Examples
    --------
    >>> line_numbers('name = "x"\\n[[vent]]\\ncount = 3\\n')
    {'name': 1, 'vent': 2, 'vent[0]': 2, 'vent[0].count': 3}
    """
    return _Scanner(text).run()


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text.replace("\r\n", "\n")
        self.at = 0
        self.lines: dict[str, int] = {}
        self.counts: dict[str, int] = {}
        self.counted, self.line = 0, 1

    def here(self) -> int:
        """Line of the present place; counted onward from the last one asked for."""
        self.line += self.text.count("\n", self.counted, self.at)
        self.counted = self.at
        return self.line

    def blank(self, newlines: bool) -> None:
        while self.at < len(self.text):
            char = self.text[self.at]
            if char in " \t\r" or (newlines and char == "\n"):
                self.at += 1
            elif char == "#":
                end = self.text.find("\n", self.at)
                self.at = len(self.text) if end < 0 else end
            else:
                return

    def string(self) -> str | None:
        for quote, pattern in _STRINGS:
            if self.text.startswith(quote, self.at):
                match = pattern.match(self.text, self.at)
                if match:
                    self.at = match.end()
                    return match[0][len(quote) : -len(quote)]
        return None

    def key(self) -> list[str]:
        steps: list[str] = []
        while True:
            self.blank(newlines=False)
            part = self.string()
            if part is None:
                match = _BARE.match(self.text, self.at)
                if match is None:
                    return steps
                self.at, part = match.end(), match[0]
            steps.append(part)
            self.blank(newlines=False)
            if not self.text.startswith(".", self.at):
                return steps
            self.at += 1

    def put(self, path: tuple[str | int, ...], line: int) -> None:
        for n in range(1, min(len(path), _DEEPEST) + 1):
            self.lines.setdefault(path_text(path[:n]), line)

    def table_path(self, steps: list[str]) -> tuple[str | int, ...]:
        """Path of a header, with the running number after every array of tables on the way."""
        path: tuple[str | int, ...] = ()
        for step in steps:
            path = (*path, step)
            count = self.counts.get(path_text(path))
            if count is not None:
                path = (*path, count)
        return path

    def run(self) -> dict[str, int]:
        prefix: tuple[str | int, ...] = ()
        while True:
            self.blank(newlines=True)
            if self.at >= len(self.text):
                return self.lines
            before, line = self.at, self.here()
            if self.text.startswith("[[", self.at):
                self.at += 2
                steps = self.key()
                if not steps:
                    return self.lines
                whole = path_text((*self.table_path(steps[:-1]), steps[-1]))
                self.counts[whole] = self.counts.get(whole, -1) + 1
                prefix = self.table_path(steps)
                self.put(prefix, line)
                self.at = self.text.find("]]", self.at) + 2
            elif self.text.startswith("[", self.at):
                self.at += 1
                prefix = self.table_path(self.key())
                self.put(prefix, line)
                self.at = self.text.find("]", self.at) + 1
            else:
                path = (*prefix, *self.key())
                self.put(path, line)
                self.at = self.text.find("=", self.at) + 1
                self.value(path)
            if self.at <= before:  # not valid TOML after all: stop rather than turn for ever
                return self.lines

    def value(self, path: tuple[str | int, ...]) -> None:
        self.blank(newlines=False)
        start = self.text[self.at : self.at + 1]
        if start == "[":
            self.at += 1
            index = 0
            while True:
                self.blank(newlines=True)
                if self.at >= len(self.text) or self.text[self.at] == "]":
                    self.at += 1
                    return
                before = self.at
                self.put((*path, index), self.here())
                self.value((*path, index))
                self.comma()
                index += 1
                if self.at <= before:
                    return
        elif start == "{":
            self.at += 1
            while True:
                self.blank(newlines=True)
                if self.at >= len(self.text) or self.text[self.at] == "}":
                    self.at += 1
                    return
                before, line = self.at, self.here()
                inner = (*path, *self.key())
                self.put(inner, line)
                self.at = self.text.find("=", self.at) + 1
                self.value(inner)
                self.comma()
                if self.at <= before:
                    return
        elif self.string() is None:
            match = _SCALAR.match(self.text, self.at)
            if match:
                self.at = match.end()

    def comma(self) -> None:
        self.blank(newlines=True)
        if self.text.startswith(",", self.at):
            self.at += 1
