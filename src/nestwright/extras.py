"""Which extra of the package brings a library that is not installed."""

from __future__ import annotations

import importlib.metadata
import re

from nestwright.errors import InputError

__all__ = ["missing", "not_installed"]

# the name that is imported, where it is not that of the package
_PACKAGES = {
    "cv2": "opencv-python-headless",
    "multipart": "python-multipart",
    "ocp": "build123d",
    "dask": "distributed",
}


def missing(module: str) -> InputError | None:
    """What to install where `module` (a dotted name) could not be imported; None where no extra brings it.

    Source: the package's own metadata (Provides-Extra, PEP 685), written from pyproject.toml.
    """
    top = module.split(".")[0].lower()
    wanted = _PACKAGES.get(top, top).replace("_", "-")
    try:
        known = importlib.metadata.requires("nestwright") or []
    except importlib.metadata.PackageNotFoundError:  # run from its sources
        return None if top in ("", "nestwright") else not_installed(wanted)
    for line in known:
        name = re.match(r"[\w.-]+", line)
        extra = re.search(r"extra == ['\"]([\w-]+)['\"]", line)
        # the builder writes what `all` brings in full
        if name and extra and extra.group(1) != "all" and name.group().lower().replace("_", "-") == wanted:
            return InputError(
                "a part of the program is not installed", found=f"no {wanted}",
                allowed=f"pip install 'nestwright[{extra.group(1)}]', or [all]",
            )  # fmt: skip
    return None


def not_installed(library: str) -> InputError:
    """What to do where the program runs from its sources and a library that it needs is not there."""
    return InputError(
        "this Python has the program's sources and not its libraries", found=f"no {library}",
        allowed="pip install '.[all]' in the folder with pyproject.toml, then the command nestwright",
    )  # fmt: skip
