"""Writing a file whole or not at all."""

from __future__ import annotations

import errno
import os
import re
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from nestwright.errors import InputError

__all__ = ["check_place", "no_file", "plain_name", "replacing", "write_whole"]


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
    scratch = _scratch(target)
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


def check_place(path: str | Path, *endings: str, field: str = "--out") -> Path:
    """The path, if a file can be written there and, where `endings` are told, its name has one; asked before long work.

    What has another ending may be another file of the user's, as the record or a design. `field` names the option.

    A scratch file is made beside it and taken away again: permissions alone do not tell what a file system takes.

    Raises
    ------
    InputError
        As `replacing`; for a name with another ending.
    """
    target = Path(path)
    if endings and target.suffix.lower() not in endings:
        said = "is written in one form" if len(endings) == 1 else "is written in other forms"
        allowed = f"a name that ends in {' or '.join(endings)}"
        raise InputError(said, field=field, found=str(path), allowed=allowed)
    _scratch(target).unlink(missing_ok=True)
    return target


def no_file(path: Path) -> str:
    """Why there is no file to read at a path."""
    return "is a folder, not a file" if path.is_dir() else "there is no such file"


def write_whole(path: str | Path, content: str | bytes) -> None:
    """Write text (UTF-8) or bytes to `path`: all of it, or nothing. Raises InputError like `replacing`."""
    data = content.encode() if isinstance(content, str) else content
    with replacing(path) as scratch:
        scratch.write_bytes(data)


def plain_name(name: str) -> str:
    """A name of the user's as part of a file's name: letters and digits of any script, dashes for all else.

    Two names may become one; who keeps files by it sees to that.

    Examples
    --------
    >>> plain_name("Pot 3/b")
    'Pot-3-b'
    """
    made = re.sub(r"[^\w-]+", "-", name, flags=re.UNICODE).strip("-_")[:60]
    return made or "unnamed"


def _scratch(target: Path) -> Path:
    """An empty file beside `target` with its suffix. Raises InputError where there can be none."""
    folder = target.parent
    try:
        if target.is_dir():
            raise InputError("is a folder, not a file", file=str(target), allowed="the name of a file to write")
        if not folder.is_dir():
            # the outermost folder that is missing is the one to make, or to spell rightly
            missing = next(one for one in (*reversed(folder.parents), folder) if not one.is_dir())
            what = "is a file and no folder to write into" if missing.exists() else "there is no such folder"
            raise InputError(what, file=str(target), found=str(missing))
        handle, name = tempfile.mkstemp(prefix=f".{target.stem[:40]}-", suffix=target.suffix, dir=folder)
    except OSError as error:
        # "No such file" is said by file systems that keep no files; the folder itself is there
        reason = "it takes no files" if error.errno == errno.ENOENT else error.strerror or str(error)
        raise InputError("cannot write into the folder", file=str(target), found=f"{folder}: {reason}") from None
    os.close(handle)
    return Path(name)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
