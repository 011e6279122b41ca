"""Solids as files: STEP (AP242 or AP214) with names, STL, and 3MF with units and names. Lengths mm.

The same parts give the same bytes: no clock and no random names in any of them.
"""

from __future__ import annotations

import io
import itertools
import re
import struct
import zipfile
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Literal
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from nestwright.errors import InputError
from nestwright.parts.model import Part
from nestwright.parts.solids import place_of
from nestwright.parts.triangles import Triangles

__all__ = ["STANDARDS", "Standard", "stl_bytes", "three_mf_bytes", "write_step"]

Standard = Literal["242", "214"]

STANDARDS: dict[str, str] = {"242": "AP242DIS", "214": "AP214IS"}
"""Application protocols of ISO 10303 by their number, as Open CASCADE calls them."""

_TIME = "2000-01-01T00:00:00"
_ZIP_TIME = (1980, 1, 1, 0, 0, 0)


def write_step(path: Path, named: Mapping[str, Any], name: str, standard: str = "242") -> None:
    """Write solids (mm) under their names into one STEP file; several as an assembly called `name`.

    Raises
    ------
    InputError
        For a standard that is none of `STANDARDS`, or where the file cannot be written.
    """
    if standard not in STANDARDS:
        raise InputError("there is no such form of STEP", field="--step", found=repr(standard), allowed="242, 214")
    from OCP.APIHeaderSection import APIHeaderSection_MakeHeader
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.Interface import Interface_Static
    from OCP.Message import Message, Message_Gravity
    from OCP.STEPCAFControl import STEPCAFControl_Controller, STEPCAFControl_Writer
    from OCP.STEPControl import STEPControl_Controller, STEPControl_StepModelType
    from OCP.TCollection import TCollection_HAsciiString

    STEPControl_Controller.Init_s()
    STEPCAFControl_Controller.Init_s()
    for printer in Message.DefaultMessenger_s().Printers():  # nothing of its own on the terminal
        printer.SetTraceLevel(Message_Gravity.Message_Fail)
    before = Interface_Static.CVal_s("write.step.schema")
    Interface_Static.SetCVal_s("write.step.schema", STANDARDS[standard])
    try:
        writer = STEPCAFControl_Writer()
        writer.SetNameMode(True)
        document = _document(named, name)
        writer.Transfer(document, STEPControl_StepModelType.STEPControl_AsIs)
        header = APIHeaderSection_MakeHeader(writer.Writer().Model())
        header.SetTimeStamp(TCollection_HAsciiString(_TIME))
        header.SetName(TCollection_HAsciiString(name.encode("ascii", "replace").decode()))
        header.SetOriginatingSystem(TCollection_HAsciiString("Nestwright"))
        if writer.Write(str(path)) != IFSelect_ReturnStatus.IFSelect_RetDone:
            raise InputError("cannot write", file=str(path))
    finally:
        Interface_Static.SetCVal_s("write.step.schema", before)
    path.write_bytes(_renumbered(path.read_bytes()))


def _document(named: Mapping[str, Any], name: str) -> Any:
    """Named shapes, one alone or an assembly, as Open CASCADE's writer takes them."""
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDocStd import TDocStd_Document
    from OCP.TopLoc import TopLoc_Location
    from OCP.XCAFApp import XCAFApp_Application
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    def call(label: Any, text: str) -> None:
        TDataStd_Name.Set_s(label, TCollection_ExtendedString(text, True))

    document = TDocStd_Document(TCollection_ExtendedString("XmlOcaf"))
    XCAFApp_Application.GetApplication_s().InitDocument(document)
    XCAFDoc_DocumentTool.SetLengthUnit_s(document, 1e-3)
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    shapes.SetAutoNaming_s(False)
    if len(named) == 1:
        ((text, solid),) = named.items()
        call(shapes.AddShape(solid.wrapped, False), text)
        return document
    whole = shapes.NewShape()
    call(whole, name)
    for text, solid in named.items():
        place = solid.wrapped.Location()
        own = shapes.AddShape(solid.wrapped.Located(TopLoc_Location()), False)
        call(own, text)
        call(shapes.AddComponent(whole, own, place), text)
    shapes.UpdateAssemblies()
    return document


def _renumbered(content: bytes) -> bytes:
    """Occurrences counted from 1, and no number of the file: the library counts on from file to file."""
    count = itertools.count(1)
    content = re.sub(rb"(STEP translator [\d.]+) [\d.]+'", rb"\1'", content)
    return re.sub(rb"(NEXT_ASSEMBLY_USAGE_OCCURRENCE\(')\d+'", lambda m: m[1] + b"%d'" % next(count), content)


def stl_bytes(mesh: Triangles, name: str) -> bytes:
    """Binary STL, mm; the header holds the name (it must not begin with "solid")."""
    corners = mesh.corners[mesh.faces].astype("<f4")
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(across, axis=1, keepdims=True)
    normals = np.divide(across, length, out=np.zeros_like(across), where=length > 0)
    rows = np.zeros(len(corners), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("rest", "<u2")])
    rows["normal"], rows["corners"] = normals, corners
    head = f"part in mm: {name}".encode("ascii", "replace")[:80].ljust(80)
    return head + struct.pack("<I", len(corners)) + rows.tobytes()


def three_mf_bytes(meshes: Iterable[tuple[Part, Triangles]], title: str, *, in_place: bool = False) -> bytes:
    """A 3MF package of the core specification: one object a part, with its name, way of making and material.

    With `in_place` every part stands where it does in the habitat, else each lies at its own origin.
    """
    objects, items, materials = [], [], []
    listed = list(meshes)
    kinds = list(dict.fromkeys(part.material for part, _ in listed))
    for kind in kinds:
        materials.append(f'<base name={quoteattr(kind)} displaycolor="{_colour(kind)}"/>')
    for n, (part, mesh) in enumerate(listed, 2):
        corners = "".join(f'<vertex x="{x:.6g}" y="{y:.6g}" z="{z:.6g}"/>' for x, y, z in mesh.corners)
        faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in mesh.faces)
        number = quoteattr(f"{part.way}, {part.material}, {part.quantity} x")
        objects.append(
            f'<object id="{n}" type="model" name={quoteattr(part.name)} partnumber={number} pid="1" '
            f'pindex="{kinds.index(part.material)}"><mesh><vertices>{corners}</vertices>'
            f"<triangles>{faces}</triangles></mesh></object>"
        )
        items.append(f'<item objectid="{n}"{_transform(part) if in_place else ""}/>')
    model = (
        '<?xml version="1.0" encoding="UTF-8"?>\n<model unit="millimeter" xml:lang="en" '
        'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">'
        f'<metadata name="Title">{escape(title)}</metadata>'
        f'<resources><basematerials id="1">{"".join(materials)}</basematerials>{"".join(objects)}</resources>'
        f"<build>{''.join(items)}</build></model>"
    )
    types = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
    )
    links = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
        '<Relationship Target="/3D/3dmodel.model" Id="rel0" '
        'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        for name, text in (("[Content_Types].xml", types), ("_rels/.rels", links), ("3D/3dmodel.model", model)):
            entry = zipfile.ZipInfo(name, _ZIP_TIME)
            entry.compress_type = zipfile.ZIP_DEFLATED
            package.writestr(entry, text)
    return out.getvalue()


def _transform(part: Part) -> str:
    place = place_of(part).wrapped.Transformation()
    rows = [place.Value(row, column) for column in (1, 2, 3) for row in (1, 2, 3)]
    rows += [place.Value(row, 4) for row in (1, 2, 3)]
    return f' transform="{" ".join(f"{v + 0.0:.9g}" for v in rows)}"'


_COLOURS = {
    "acrylic": "#BFD9E680", "polycarbonate": "#C9DDE680", "glass": "#BFE3DC70", "PETG": "#8FA9BFFF", "PLA": "#9FB58FFF",
    "plaster": "#EDE6D8FF", "porous ceramic": "#D8A98AFF", "cork": "#B98A5AFF", "stainless steel": "#A9ADB0FF",
    "aluminium": "#C5C9CCFF", "silicone": "#E6E6E6FF", "polyethylene foam": "#E3E3DDFF",
}  # fmt: skip


def _colour(material: str) -> str:
    """Colour with its opacity, for a view: no property of the material."""
    return _COLOURS.get(material, "#C8C0B4FF")


def colour_of(material: str) -> tuple[float, float, float, float]:
    """The same as red, green, blue and opacity, 0 to 1."""
    text = _colour(material)[1:]
    red, green, blue, alpha = (int(text[k : k + 2], 16) / 255 for k in (0, 2, 4, 6))
    return red, green, blue, alpha
