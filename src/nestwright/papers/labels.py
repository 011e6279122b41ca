"""Labels of builds: serial, design and a QR code, set on a sheet of label paper."""

from __future__ import annotations

import io
import tomllib
from dataclasses import dataclass
from importlib import resources
from typing import TYPE_CHECKING, Any

from nestwright.errors import InputError, nearest_name
from nestwright.papers.words import words_of
from nestwright.press.setting import readable, set_paper

if TYPE_CHECKING:
    from datetime import date

__all__ = ["Label", "Labels", "Sheet", "labels_pdf", "lay_labels", "sheet_of", "sheets"]

MOST_BYTES = 200
"""Of a code: about 57 modules a side, still read from a label of 30 mm."""
MOST_LABELS = 1000
SCHEMES = ("http", "https", "mailto", "tel")
"""Of an address in a code: nothing that a phone would run."""


@dataclass(frozen=True)
class Sheet:
    """Label paper, mm: `page`, `first` (left and top of the first label), `label` and `step` as (across, down)."""

    name: str
    page: tuple[float, float]
    across: int
    down: int
    first: tuple[float, float]
    label: tuple[float, float]
    step: tuple[float, float]


@dataclass(frozen=True)
class Label:
    """One label: what it says, what its code says, and where its left upper corner is, mm."""

    serial: str
    habitat: str
    revision: str
    made: str
    code: str
    page: int
    left: float
    top: float

    def to_dict(self) -> dict[str, Any]:
        told = {k: getattr(self, k) for k in ("serial", "habitat", "revision", "made", "code", "page")}
        return {**told, "left_mm": self.left, "top_mm": self.top}


@dataclass(frozen=True)
class Labels:
    sheet: Sheet
    labels: tuple[Label, ...]

    @property
    def pages(self) -> int:
        return self.labels[-1].page

    def to_dict(self) -> dict[str, Any]:
        return {"sheet": self.sheet.name, "pages": self.pages, "labels": [one.to_dict() for one in self.labels]}


def sheets() -> dict[str, Sheet]:
    """The kinds of label paper by name, from data/label_sheets.toml."""
    text = (resources.files("nestwright.data") / "label_sheets.toml").read_text("utf-8")
    found = {}
    for name, s in tomllib.loads(text).items():
        page, first, label, step = (tuple(s[k]) for k in ("page", "first", "label", "step"))
        found[name] = Sheet(name, page, s["across"], s["down"], first, label, step)
    return found


def sheet_of(name: str) -> Sheet:
    """A kind of label paper. Raises InputError with the nearest name."""
    known = sheets()
    if name not in known:
        raise InputError(
            "is no kind of label paper",
            field="--sheet",
            found=readable(name, 60),
            allowed=", ".join(known),
            nearest=nearest_name(name, list(known)),
        )
    return known[name]


def lay_labels(
    builds: list[tuple[str, str, str, str]], sheet: Sheet, *, address: str = "", skip: int = 0
) -> Labels:  # fmt: skip
    """Lay one label a build on sheets, by rows.

    Parameters
    ----------
    builds : serial, habitat's name, revision, day made.
    address : put before the serial in the code, as "http://bench.local/builds/"; "" for the four facts as text.
    skip : places of the first sheet that are used up.

    Raises
    ------
    InputError
        For no build or too many, more skipped than a sheet has, an address that is none, or a serial too long for a
        code. A habitat's name too long for one is shortened in it.
    """
    from urllib.parse import quote

    if ":" in address and address.partition(":")[0].lower() not in SCHEMES:
        raise InputError(
            "is no address that a reader may open", field="--address", found=readable(address, 60),
            allowed=f"what begins with {', '.join(f'{one}:' for one in SCHEMES)}, or a text without a colon",
        )  # fmt: skip

    places = sheet.across * sheet.down
    if not 1 <= len(builds) <= MOST_LABELS:
        raise InputError("are too few or too many labels", found=str(len(builds)), allowed=f"1 to {MOST_LABELS}")
    if not 0 <= skip < places:
        raise InputError("leaves no place", field="--skip", found=str(skip), allowed=f"0 to {places - 1}")
    laid = []
    for i, (serial, habitat, revision, made) in enumerate(builds, skip):
        code = address + quote(serial, safe="")
        if not address:
            rest = f"revision {revision}\nmade {made}"
            code = f"{serial}\n{_shortened(habitat, MOST_BYTES - len(f'{serial}{rest}'.encode()) - 2)}\n{rest}"
        if len(code.encode()) > MOST_BYTES:
            raise InputError(
                "is too long for a code",
                field="label",
                found=readable(serial, 60),
                allowed=f"{MOST_BYTES} bytes with address, or with revision and day",
            )
        page, place = divmod(i, places)
        row, column = divmod(place, sheet.across)
        left, top = sheet.first[0] + column * sheet.step[0], sheet.first[1] + row * sheet.step[1]
        laid.append(Label(serial, habitat, revision, made, code, page + 1, left, top))
    return Labels(sheet, tuple(laid))


def _shortened(text: str, most: int) -> str:
    """A text of at most `most` bytes, its end replaced by dots where it is longer."""
    if len(text.encode()) <= most:
        return text
    return text.encode()[: max(most - 3, 0)].decode(errors="ignore") + "..."


def labels_pdf(labels: Labels, made: date, language: str = "en") -> bytes:
    """The sheets as PDF/A-2b, without scaling: to be printed at 100 %. Codes are the same in every language.

    Raises InputError for a language that is not there.
    """
    _ = words_of(language).gettext
    sheet, untold = labels.sheet, _("not told")
    told = [
        {
            "serial": one.serial,
            "lines": [
                one.habitat,
                _("revision {revision}").format(revision=one.revision or untold),
                _("made {day}").format(day=one.made or untold),
            ],
            "code": {
                "svg": _code_svg(one.code),
                "alt": _("Code of build {serial}").format(serial=readable(one.serial, 60)),
            },
            "page": one.page, "left": one.left, "top": one.top,
        }
        for one in labels.labels
    ]  # fmt: skip
    data = {
        "lang": language, "title": _("Labels of builds"), "footer": "", "page": sheet.page, "label": sheet.label,
        "pages": [[x for x in told if x["page"] == page + 1] for page in range(labels.pages)],
    }  # fmt: skip
    return set_paper("labels", data, made)


def _code_svg(text: str) -> str:
    import segno

    out = io.BytesIO()
    # error correction M: a scratch of some modules does not make it unread; border 4 modules, ISO/IEC 18004
    segno.make_qr(text, error="m").save(out, kind="svg", border=4, xmldecl=False, nl=False, dark="#000", light="#fff")
    return out.getvalue().decode()
