"""Whatever a user's file is turned into, its reader takes it or says in its one way why not.

A few spoilt copies of each here; `studies/fuzz_files.py` tries them by the thousand.
"""

import importlib.util
import random
from pathlib import Path

import pytest

from nestwright.errors import FileError, InputError


def _beside(name):
    spec = importlib.util.spec_from_file_location(name, Path(__file__).parent / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


READERS = _beside("readers").READERS
spoilt = _beside("spoiling").spoilt


@pytest.mark.parametrize("name", READERS)
def test_the_file_itself_is_taken(name, tmp_path):
    shown, made, read = READERS[name]
    (tmp_path / shown).write_bytes(made())
    read(tmp_path / shown)


@pytest.mark.parametrize("name", READERS)
def test_a_spoilt_file_is_read_or_refused(name, tmp_path):
    shown, made, read = READERS[name]
    whole = made()
    refused = longest = 0
    for seed in range(40):
        (tmp_path / shown).write_bytes(spoilt(whole, seed))
        try:
            read(tmp_path / shown)
        except (InputError, FileError) as error:
            refused += 1
            longest = max(longest, len(str(error)))
    assert refused, "nothing that was spoilt was noticed"
    assert longest < 40_000


def test_what_is_no_file_at_all(tmp_path):
    chance, taken = random.Random(4), []
    for name, (shown, _, read) in READERS.items():
        for size in (0, 1, 100, 5000):
            (tmp_path / shown).write_bytes(chance.randbytes(size))
            try:
                read(tmp_path / shown)
            except (InputError, FileError):
                continue
            taken.append((name, size))
    assert taken == [("notices", 0)]
