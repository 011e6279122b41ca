"""Bytes of a file spoilt as a slip, a bad disk or an attacker would: the same for the same seed."""

from __future__ import annotations

import gzip
import random

TOKENS = (
    b"", b"\0", b"\xff\xfe", b"\xef\xbb\xbf", b"\r\n", b"\n\n", b'"', b"'''", b"[[", b"]]", b"{", b"=", b",", b";",
    b"#", b"nan", b"inf", b"-1", b"0", b"1e309", b"1e-309", b"9" * 400, b"true", b"9999-12-31", b"0000-00-00", b"24:60",
    "−5 µm".encode(), "\u202e\u2066".encode(), b"../../etc", b"A" * 5000, b"%s%n", b"${x}", b"\x1b[2J", b"B" * 200_000,
)  # fmt: skip
"""What stands in the way of readers: ends of text, marks of the format, numbers at the edge, steering characters."""


def spoilt(whole: bytes, seed: int) -> bytes:
    """One to four changes: cut off, a token put in or in place, a byte turned, a piece doubled, lines exchanged."""
    chance = random.Random(seed)
    packed = whole[:2] == b"\x1f\x8b" and chance.random() < 0.7
    data = bytearray(gzip.decompress(whole) if packed else whole)
    for _ in range(chance.randint(1, 4)):
        at = chance.randrange(len(data) + 1)
        far = min(len(data), at + chance.choice((1, 1, 3, 10, 60)))
        match chance.randrange(6):
            case 0:
                del data[at:]
            case 1:
                data[at:far] = chance.choice(TOKENS)
            case 2:
                data[at:at] = chance.choice(TOKENS)
            case 3 if at < len(data):
                data[at] ^= 1 << chance.randrange(8)
            case 4:
                data[at:at] = data[at:far] * chance.choice((1, 3))
            case _:
                lines = bytes(data).split(b"\n")
                one, other = chance.randrange(len(lines)), chance.randrange(len(lines))
                lines[one], lines[other] = lines[other], lines[one]
                data = bytearray(b"\n".join(lines))
    return gzip.compress(bytes(data), 1, mtime=0) if packed else bytes(data)
