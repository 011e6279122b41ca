"""A text file in pieces of whole lines, whatever its encoding, its line ends and the junk in it."""

from __future__ import annotations

import codecs
import contextlib
import io
import os
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO, Any

import numpy as np

from nestwright.errors import InputError

__all__ = ["ENCODINGS", "LONGEST", "Piece", "encoding_of", "head_of", "open_bytes", "pieces_of"]

LONGEST = 10_000
"""Bytes of a line; a longer one is no row of a logger."""
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "latin-1")
_PIECE = 1 << 24
_PRINTABLE = bytes([9, 10, 13, *range(32, 127), *range(128, 256)])
_MARKS = {codecs.BOM_UTF8: "utf-8-sig", codecs.BOM_UTF16_LE: "utf-16", codecs.BOM_UTF16_BE: "utf-16"}


@dataclass(frozen=True)
class Piece:
    """Whole lines as UTF-8, each ended by a newline; lines that are junk are blanked out and listed.

    `first_line` counts from 1; `junk` holds (line, reason, text); `done` and `size` are bytes of the file; `cut` says
    that the last line of the file has no line end, `broken` that a packed file breaks off; then `before` holds some of
    the lines above the piece.
    """

    first_line: int
    data: bytes
    junk: tuple[tuple[int, str, str], ...]
    done: int
    size: int
    cut: bool = False
    broken: bool = False
    before: bytes = b""

    @property
    def count(self) -> int:
        """Lines in it."""
        return self.data.count(b"\n")


def open_bytes(path: str | Path) -> tuple[Any, IO[bytes], int]:
    """The file's bytes, unpacked if gzip; the file on the disk, for its position; its size.

    Raises
    ------
    InputError
        When it cannot be opened, is a folder, empty, or a spreadsheet or archive instead of a text.
    """
    shown = str(path).replace("\0", "?")
    try:
        raw = open(path, "rb")  # noqa: SIM115 - handed on open
    except OSError as error:
        raise InputError(f"cannot be read: {(error.strerror or 'error').lower()}", file=shown) from None
    except ValueError:
        raise InputError("is not the name of a file", file=shown) from None
    try:
        start = raw.read(4)
        raw.seek(0)
        size = os.fstat(raw.fileno()).st_size
    except OSError as error:
        raw.close()
        raise InputError(f"cannot be read: {(error.strerror or 'error').lower()}", file=shown) from None
    if start[:2] == b"PK" or start == b"\xd0\xcf\x11\xe0":
        raw.close()
        raise InputError(
            "is a spreadsheet or an archive, not text", file=shown, allowed="CSV; save or export the sheet as CSV"
        )
    if start[:2] == b"\x1f\x8b":
        return _Unpacked(raw), raw, size
    return raw, raw, size


class _Unpacked:
    """A gzip file that gives what it has before it breaks off; `broken` tells that it does."""

    def __init__(self, raw: IO[bytes]) -> None:
        self.raw, self.stream, self.broken, self.ended = raw, zlib.decompressobj(31), False, False
        self.left = b""

    def read(self, count: int) -> bytes:
        out = bytearray()
        while len(out) < count and not self.ended:
            data = self.left or self.raw.read(1 << 16)
            if not data:
                self.ended, self.broken = True, not self.stream.eof
                break
            if self.stream.eof:  # a further member
                if data[:2] != b"\x1f\x8b":
                    self.ended = True
                    break
                self.stream = zlib.decompressobj(31)
            safe = self.stream.copy()
            try:
                out += self.stream.decompress(data, count - len(out))
                self.left = self.stream.unused_data if self.stream.eof else self.stream.unconsumed_tail
            except zlib.error:
                self.ended = self.broken = True
                with contextlib.suppress(zlib.error):  # up to the very byte that is wrong
                    for k in range(len(data)):
                        out += safe.decompress(data[k : k + 1])
        return bytes(out)


def _read(source: Any, count: int, shown: str) -> tuple[bytes, bool]:
    """Bytes, and whether a packed file broke off in them."""
    try:
        data = source.read(count)
    except OSError as error:
        raise InputError(f"cannot be read: {(error.strerror or 'error').lower()}", file=shown) from None
    return data, isinstance(source, _Unpacked) and source.broken


def head_of(path: str | Path, size: int = 1 << 18) -> bytes:
    """First bytes of the file, unpacked. Raises InputError as `open_bytes`, and for a file that is empty or no text."""
    source, raw, _ = open_bytes(path)
    with raw:
        data, _ = _read(source, size, str(path))
    if not data.strip(b" \t\r\n\xff\xfe\xef\xbb\xbf"):
        raise InputError("the file is empty", file=str(path))
    if _is_no_text(data):
        raise InputError("is no text", file=str(path), found=f"{len(data)} bytes as of a picture or a program",
                         allowed="a table as text (CSV), as the logger's own program exports it")  # fmt: skip
    return data


_CONTROLS = bytes(set(range(32)) - set(b"\0\t\n\v\f\r\x1a\x1b"))


def _is_no_text(head: bytes) -> bool:
    """Whether a file holds what no text does: nothing but zeros, or many control characters (ISO/IEC 6429, C0)."""
    if not head.strip(b"\0"):
        return True
    if head.startswith(tuple(_MARKS)) or head.count(0) > len(head) // 5:  # text of two bytes a letter, perhaps
        return False
    return len(head) - len(head.translate(None, _CONTROLS)) > len(head) // 20


def encoding_of(head: bytes) -> tuple[str, str, str]:
    """Encoding of a text by its first bytes: (encoding, reason, confidence)."""
    for mark, name in _MARKS.items():
        if head.startswith(mark):
            return name, "the file begins with a byte order mark", "sure"
    if head.count(0) > len(head) // 5:
        even, odd = head[::2].count(0), head[1::2].count(0)
        if max(even, odd) > 3 * min(even, odd):
            name = "utf-16-le" if odd > even else "utf-16-be"
            return name, "every second byte is zero", "likely"
    if head.isascii():
        return "utf-8", "only ASCII characters at its top", "sure"
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head)
        return "utf-8", "its characters are valid UTF-8", "sure"
    except UnicodeDecodeError:
        pass
    try:
        head.decode("cp1252")
        return "cp1252", "not UTF-8; every byte is a character of code page 1252", "likely"
    except UnicodeDecodeError:
        return "latin-1", "not UTF-8, and some bytes are none of code page 1252", "likely"


def pieces_of(path: str | Path, encoding: str, size: int = _PIECE) -> Iterator[Piece]:
    """Whole lines of the file, some 16 MB at a time. Raises InputError when it cannot be read."""
    head = head_of(path)
    for mark, name in _MARKS.items():
        if head.startswith(mark):
            encoding = name  # a mark in the file outranks what was said
    if encoding == "utf-16" and not head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encoding = "utf-16-le"  # most are; the mark that would tell is missing
    wide = encoding.startswith("utf-16")
    end = b"\r" if b"\r" in head and b"\n" not in head else b"\n"
    decoder: Any = _Wide(encoding, head) if wide else codecs.getincrementaldecoder(encoding)("replace")
    shown, size = str(path), max(size, 16)
    source, raw, whole = open_bytes(path)
    with raw:
        carry, above, line, broke, tail = b"", b"", 1, False, False
        while not tail:
            data, broke = _read(source, size, shown)
            tail = not data
            if encoding in ("cp1252", "latin-1") and data.isascii():
                text = data
            elif encoding in ("utf-8", "utf-8-sig") and not wide:
                text = data
                if line == 1 and not carry and text.startswith(codecs.BOM_UTF8):
                    text = text[3:]
            else:
                text = decoder.decode(data, tail).encode("utf-8", "replace")
                if wide and line == 1 and not carry and text.startswith(codecs.BOM_UTF8):
                    text = text[3:]
            carry += text
            at = len(carry) if tail else carry.rfind(end) + 1
            if at == 0:
                # One endless line: its beginning is enough to call it too long.
                carry = carry[: LONGEST + 1] if len(carry) > 1 << 20 else carry
                continue
            lines, carry = carry[:at], carry[at:]
            cut = tail and bool(lines) and not lines.endswith(end)
            if lines:
                piece = _piece(line, lines + (end if cut else b""), end, raw.tell(), whole)
                line += piece.count
                yield replace(piece, cut=cut, broken=broke, before=above) if cut or broke else piece
                above = (above + piece.data)[-4000:]


class _Wide:
    """UTF-16 decoded line by line: junk of an odd number of bytes spoils its own line, not all that follow."""

    def __init__(self, encoding: str, head: bytes) -> None:
        big = encoding.endswith("be") or (encoding == "utf-16" and head.startswith(codecs.BOM_UTF16_BE))
        self.name, self.end = ("utf-16-be", b"\0\n") if big else ("utf-16-le", b"\n\0")
        self.left = b""

    def decode(self, data: bytes, final: bool = False) -> str:
        data = self.left + data
        at = len(data) if final else data.rfind(self.end) + 1
        at += bool(at) and not final  # both bytes of the line end
        if not at and len(data) > 1 << 20:
            at = len(data) // 2 * 2  # one endless line
        whole, self.left = data[:at], data[at:]
        place = np.frombuffer(whole, dtype=np.uint8)
        marks = np.flatnonzero((place[:-1] == self.end[0]) & (place[1:] == self.end[1]))
        if not (marks % 2).any():
            return whole.decode(self.name, "replace")
        lines = whole.split(self.end)
        return "\n".join(line.decode(self.name, "replace").replace("\n", " ") for line in lines)


def _piece(first: int, data: bytes, end: bytes, done: int, size: int) -> Piece:
    if end == b"\r":
        data = data.replace(b"\r", b"\n")
    elif b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b" ")
    array = np.frombuffer(data, dtype=np.uint8)
    ends = np.flatnonzero(array == 10)
    starts = np.concatenate(([0], ends[:-1] + 1))
    reasons: dict[int, str] = {int(k): "the line is too long" for k in np.flatnonzero(ends - starts > LONGEST)}
    if data.translate(None, _PRINTABLE):
        control = np.flatnonzero((array < 32) & (array != 9) & (array != 10) | (array == 127))
        for k in np.unique(np.searchsorted(ends, control)):
            reasons.setdefault(int(k), "binary junk")
    for k in _unclosed(array, ends):
        reasons.setdefault(int(k), "a quote that does not close")
    if not reasons:
        return Piece(first, data, (), done, size)
    out, junk = io.BytesIO(), []
    at = 0
    for k in sorted(reasons):
        out.write(data[at : starts[k]])
        at = int(ends[k])
        junk.append((first + k, reasons[k], data[starts[k] : starts[k] + 200].decode("utf-8", "replace")))
    out.write(data[at:])
    return Piece(first, out.getvalue(), tuple(junk), done, size)


def _unclosed(array: Any, ends: Any) -> Any:
    """Lines in which a cell begins with a quote that does not close: it would take the next lines into the cell."""
    quotes = np.flatnonzero(array == 34)
    if not len(quotes):
        return quotes
    line = np.searchsorted(ends, quotes)
    odd = np.bincount(line, minlength=len(ends)) % 2 == 1
    before = np.where(quotes > 0, array[quotes - 1], 10)
    opens = np.isin(before, np.frombuffer(b"\n,;\t|", dtype=np.uint8))
    return np.unique(line[opens & odd[line]])
