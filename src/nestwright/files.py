"""Writing a file whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from nestwright.errors import InputError

__all__ = ["replacing", "write_whole"]


@contextmanager
def replacing(path: str | Path) -> Iterator[Path]:
    """Give a scratch path beside `path`; on leaving without error it takes the place of `path` in one step.

    After an error or an interrupt the scratch file is gone and `path` is as it was before. The scratch
    file keeps the suffix of `path`, so that writers which look at it do the right thing.

    Raises
    ------
    InputError
        When the folder is missing or cannot be written to, or `path` is a folder.
    """
    target = Path(path)
    if target.is_dir():
        raise InputError("is a folder, not a file", file=str(target), allowed="the name of a file to write")
    if not target.parent.is_dir():
        raise InputError("the folder to write into is not there", file=str(target), found=str(target.parent))
    try:
        handle, name = tempfile.mkstemp(prefix=f".{target.stem}-", suffix=target.suffix, dir=target.parent)
    except OSError as error:
        raise InputError("cannot write here", file=str(target), found=error.strerror or str(error)) from None
    os.close(handle)
    scratch = Path(name)
    try:
        yield scratch
        with scratch.open("rb") as written:
            os.fsync(written.fileno())
        # mkstemp makes files that only their owner can read; a picture or table is like any other file.
        scratch.chmod(0o666 & ~_umask())
        os.replace(scratch, target)
    except OSError as error:
        raise InputError("cannot write", file=str(target), found=error.strerror or str(error)) from None
    finally:
        scratch.unlink(missing_ok=True)


def write_whole(path: str | Path, content: str | bytes) -> None:
    """Write text (UTF-8) or bytes to `path`: all of it, or nothing. Raises InputError like `replacing`."""
    data = content.encode() if isinstance(content, str) else content
    with replacing(path) as scratch:
        scratch.write_bytes(data)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
