"""All files of a habitat's parts in one folder, whole or not at all, with an index of what each is and its hash."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from nestwright.errors import InputError, nearest_name
from nestwright.files import plain_name
from nestwright.new_folder import new_folder
from nestwright.parts.files_flat import dxf_bytes, svg_text
from nestwright.parts.files_solid import stl_bytes, three_mf_bytes, write_step
from nestwright.parts.files_view import view_bytes
from nestwright.parts.making import Made
from nestwright.parts.model import Part
from nestwright.parts.process_rules import Processes, shipped_processes
from nestwright.parts.triangles import Triangles, triangles_of

__all__ = ["FORMATS", "formats_of", "view_of", "write_parts"]

FORMATS = ("step", "stl", "3mf", "dxf", "svg", "gltf", "drawing")
"""Sorts of files; a drawing is one as SVG and one as PDF."""

_FINE, _COARSE = (0.05, 0.35), (0.25, 0.6)
"""Tolerance mm and angle rad of triangles: of what is made, and of what is only looked at."""


def formats_of(text: str) -> tuple[str, ...]:
    """Formats as "step,stl", in the order of `FORMATS`; "" for all. Raises InputError."""
    told = [one.strip().lower() for one in text.split(",") if one.strip()]
    for one in told:
        if one not in FORMATS:
            near = nearest_name(one, FORMATS)
            raise InputError("there is no such format", field="--format", found=repr(one), allowed=", ".join(FORMATS),
                             nearest=near)  # fmt: skip
    return tuple(one for one in FORMATS if not told or one in told)


def write_parts(
    made: Made,
    out: Path,
    *,
    formats: Sequence[str] = FORMATS,
    standard: str = "242",
    kerf: float | None = None,
    named: bool = True,
    serial: str = "",
    processes: Processes | None = None,
    report: Callable[[float], None] = lambda _: None,
) -> dict[str, Any]:
    """Write the files of all parts into a new folder.

    Parameters
    ----------
    out : Path
        The folder; it must be new or empty.
    standard : str
        "242" or "214", of ISO 10303.
    kerf : float, optional
        Width of a laser's cut, m; else that of `processes`. What is cut by hand or milled is
        drawn at its size.
    named : bool
        Whether what a laser cuts has its name engraved.

    Returns
    -------
    dict
        The index that was written as parts.json: every file with its part, form, bytes and sha256.

    Raises
    ------
    InputError
        For a folder that is not empty, files that cannot be written, an opening narrower than the kerf.
    """
    rules = processes or shipped_processes()
    with new_folder(out, "a habitat's parts", "parts") as folder:
        writer = _Writer(made, folder, tuple(formats), standard, kerf, rules, named, serial)
        writer.write(report)
        index = writer.index()
        (folder / "parts.json").write_text(json.dumps(index, indent=1, ensure_ascii=False) + "\n", "utf-8")
    return index


def view_of(made: Made) -> bytes:
    """The assembled habitat as glTF binary, with coarse triangles; moulds do not stand in it."""
    meshes = ((p, _placed(p, triangles_of(made.solids[p.name], *_COARSE))) for p in _standing(made))
    return view_bytes(meshes, made.habitat.name)


def _standing(made: Made) -> list[Part]:
    return [p for p in made.assembly.parts if p.name in made.solids and p.kind not in ("mould", "coupon")]


def _placed(part: Part, mesh: Triangles) -> Triangles:
    x, y, z, turn = part.place
    c, s = math.cos(turn), math.sin(turn)
    turned = mesh.corners @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    return Triangles(turned + np.array([x, y, z]) * 1e3, mesh.faces)


class _Writer:
    def __init__(
        self,
        made: Made,
        folder: Path,
        formats: tuple[str, ...],
        standard: str,
        kerf: float | None,
        rules: Processes,
        named: bool,
        serial: str,
    ) -> None:
        self.made, self.folder, self.formats, self.standard = made, folder, formats, standard
        self.kerf, self.rules, self.named, self.serial = kerf, rules, named, serial
        self.files: list[dict[str, Any]] = []
        self.taken: set[str] = set()
        self.stems: dict[str, str] = {}

    def write(self, report: Callable[[float], None]) -> None:
        parts = [p for p in self.made.assembly.parts if p.name in self.made.solids]
        meshes: list[tuple[Part, Triangles]] = []
        for k, part in enumerate(parts):
            report(0.8 * k / max(len(parts), 1))
            meshes += self.one(part)
        title = f"{self.made.habitat.name}, revision {self.made.habitat.revision}"
        standing = {p.name for p in _standing(self.made)}
        if len(parts) > 1 and "step" in self.formats:
            from nestwright.parts.solids import placed

            whole = {p.name: placed(p, self.made.solids[p.name]) for p in parts if p.name in standing}
            path = self.path("", "habitat", "step")
            write_step(path, whole, title, self.standard)
            self.note(path, "", "assembly")
        report(0.9)
        if len(parts) > 1 and "3mf" in self.formats:
            together = [(p, m) for p, m in meshes if p.name in standing]
            self.put("", "habitat", "3mf", three_mf_bytes(together, title, in_place=True), "", "assembly")
        if "gltf" in self.formats:
            self.put("", "habitat", "glb", view_of(self.made), "", "view")
        report(1.0)

    def one(self, part: Part) -> Iterator[tuple[Part, Triangles]]:
        """Every file of one part; gives its triangles where they are asked for."""
        solid = self.made.solids[part.name]
        stem = self.stem(part.name)
        if "step" in self.formats:
            path = self.path("step", stem, "step")
            write_step(path, {part.name: solid}, part.name, self.standard)
            self.note(path, part.name, "solid")
        if "stl" in self.formats or "3mf" in self.formats:
            mesh = triangles_of(solid, *_FINE)
            if not mesh.closed:
                raise InputError("its triangles are not closed", field=part.name, line=part.line)
            if "stl" in self.formats:
                self.put("stl", stem, "stl", stl_bytes(mesh, part.name), part.name, "triangles")
            if "3mf" in self.formats:
                if part.way in ("printed", "resin"):
                    self.put("3mf", stem, "3mf", three_mf_bytes([(part, mesh)], part.name), part.name, "triangles")
                yield part, mesh
        if part.sheet is not None and part.kind != "mesh" and part.way in ("laser", "milled", "cut"):
            kerf = self.width(part)
            if "dxf" in self.formats:
                self.put(
                    "dxf", stem, "dxf", dxf_bytes(part, kerf, named=self.named, serial=self.serial), part.name, "cut"
                )
            if "svg" in self.formats:
                cut = svg_text(part, kerf, named=self.named, serial=self.serial)
                self.put("svg", stem, "svg", cut.encode(), part.name, "cut")
        if "drawing" in self.formats and part.way != "bought":
            self.drawings(part, solid, stem)

    def width(self, part: Part) -> float:
        if part.way != "laser":
            return 0.0
        if self.kerf is not None:
            return self.kerf
        return self.rules.kerf(part.way)

    def drawings(self, part: Part, solid: Any, stem: str) -> None:
        from nestwright.parts.drawing import drawing_pdf, drawing_svg

        more = {"assembly": self.made.assembly, "processes": self.rules, "solid": solid}
        size = self.made.measured[part.name]
        self.put("drawings", stem, "svg", drawing_svg(part, size, **more).encode(), part.name, "drawing")
        self.put("drawings", stem, "pdf", drawing_pdf(part, size, **more), part.name, "drawing")

    def stem(self, name: str) -> str:
        """A file's name for a part, its own in this folder."""
        if name not in self.stems:
            stem, number = plain_name(name).lower(), 2
            while stem in self.taken:
                stem, number = f"{plain_name(name).lower()}-{number}", number + 1
            self.taken.add(stem)
            self.stems[name] = stem
        return self.stems[name]

    def path(self, kind: str, stem: str, suffix: str) -> Path:
        folder = self.folder / kind if kind else self.folder
        folder.mkdir(exist_ok=True)
        return folder / f"{stem}.{suffix}"

    def put(self, kind: str, stem: str, suffix: str, content: bytes, part: str, what: str) -> None:
        path = self.path(kind, stem, suffix)
        path.write_bytes(content)
        self.note(path, part, what, content)

    def note(self, path: Path, part: str, what: str, content: bytes | None = None) -> None:
        raw = path.read_bytes() if content is None else content
        self.files.append(
            {
                "file": path.relative_to(self.folder).as_posix(),
                "part": part,
                "what": what,
                "bytes": len(raw),
                "sha256": hashlib.sha256(raw).hexdigest(),
            }
        )

    def index(self) -> dict[str, Any]:
        a = self.made.assembly
        return {
            "format": 1,
            "habitat": a.habitat,
            "revision": a.revision,
            "habitat_sha256": a.sha256,
            "unit": "mm",
            "step": f"AP{self.standard}",
            "parts": [part_dict(self.made, p) for p in a.parts],
            "files": self.files,
        }


def part_dict(made: Made, part: Part) -> dict[str, Any]:
    """One part for the index and for JSON: lengths mm, volume mL, mass g."""
    size = made.measured.get(part.name)
    told: dict[str, Any] = {
        "name": part.name,
        "kind": part.kind,
        "serves": part.serves,
        "line": part.line,
        "way": part.way,
        "material": part.material,
        "count": part.quantity,
        "note": part.note,
        "size_mm": [round(side * 1e3, 2) for side in size.box] if size else None,
        "volume_mL": float(f"{size.volume * 1e6:.4g}") if size else None,
        "mass_g": float(f"{size.mass * 1e3:.3g}") if size else None,
    }
    return told
