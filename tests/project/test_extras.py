"""A light installation: what is not there says which extra brings it, and nothing else asks for it."""

import importlib.metadata
import subprocess
import sys
import textwrap
from importlib.metadata import PackageNotFoundError

import pytest

from nestwright import __version__
from nestwright.cli.main import run
from nestwright.extras import missing

LIBRARIES = {
    "fastapi": "page", "uvicorn": "page", "jinja2": "page", "cryptography": "page", "multipart": "page",
    "typst": "papers", "cv2": "photo", "build123d": "parts", "ezdxf": "parts", "rectpack": "parts", "trimesh": "parts",
    "SALib": "explain", "distributed": "cluster",
}  # fmt: skip


@pytest.mark.parametrize("name", LIBRARIES)
def test_a_missing_library_names_its_extra(name):
    assert f"nestwright[{LIBRARIES[name]}]" in str(missing(f"{name}.inner"))


def test_no_extra_brings_what_is_always_there():
    assert missing("numpy") is None
    assert missing("") is None


def without(names, arguments, cwd):
    """The program where some libraries cannot be found."""
    code = textwrap.dedent(f"""
        import sys
        from importlib.abc import MetaPathFinder
        class Gone(MetaPathFinder):
            def find_spec(self, name, path=None, target=None):
                if name.split(".")[0] in {set(names)!r}:
                    raise ModuleNotFoundError("No module named " + repr(name), name=name)
        sys.meta_path.insert(0, Gone())
        from nestwright.cli.main import run
        run({arguments!r})
    """)
    return subprocess.run([sys.executable, "-c", code], cwd=cwd, capture_output=True, text=True, timeout=120)


def test_the_core_works_without_any_extra(tmp_path):
    made = without(LIBRARIES, ["workshop", "new", "mine"], tmp_path)
    assert made.returncode == 0, made.stderr
    told = without(LIBRARIES, ["today", "--workshop", "mine"], tmp_path)
    assert told.returncode == 0, told.stderr
    assert told.stdout.strip()


@pytest.mark.parametrize(
    ("arguments", "extra"),
    [
        (["serve", "--workshop", "mine", "--port", "0"], "page"),
        (["photo", "--sheet", "sheet.pdf"], "photo"),
    ],
    ids=lambda value: value if isinstance(value, str) else value[0],
)
def test_a_command_without_its_extra_says_so(tmp_path, arguments, extra):
    without(LIBRARIES, ["workshop", "new", "mine"], tmp_path)
    told = without(LIBRARIES, arguments, tmp_path)
    assert told.returncode == 2
    assert f"nestwright[{extra}]" in told.stderr
    assert "Traceback" not in told.stderr
    assert not (tmp_path / "sheet.pdf").exists()


def test_sources_that_nothing_installed_run_and_say_how_to_get_their_libraries(monkeypatch, capsys):
    def unknown(name):
        raise PackageNotFoundError(name)

    monkeypatch.setattr(importlib.metadata.Distribution, "from_name", unknown)
    with pytest.raises(SystemExit) as left:
        run(["--version"])
    assert left.value.code == 0
    assert capsys.readouterr().out.split() == ["nestwright", __version__]
    assert "pip install" in str(missing("numpy.linalg"))
    assert missing("nestwright.web") is None
