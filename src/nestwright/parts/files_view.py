"""The assembled habitat as glTF 2.0 binary, for a page: one node a part, with its name. Lengths m, y upwards."""

from __future__ import annotations

import json
import struct
from collections.abc import Iterable
from typing import Any

import numpy as np

from nestwright.parts.files_solid import colour_of
from nestwright.parts.model import Part
from nestwright.parts.triangles import Triangles

__all__ = ["view_bytes"]

_FLOAT, _SHORT, _INT = 5126, 5123, 5125
_CORNERS, _FACES = 34962, 34963


def view_bytes(meshes: Iterable[tuple[Part, Triangles]], title: str) -> bytes:
    """GLB of the parts where they stand; `meshes` are triangles already placed in the habitat, mm, z upwards.

    Normals are left out: a viewer then shades each triangle flat, as the specification says, and the file is half.
    """
    nodes: list[dict[str, Any]] = []
    shapes: list[dict[str, Any]] = []
    views: list[dict[str, Any]] = []
    accessors: list[dict[str, Any]] = []
    listed = list(meshes)
    materials = list(dict.fromkeys(part.material for part, _ in listed))
    data = bytearray()

    def put(array: Any, target: int, kind: int, form: str, **more: Any) -> int:
        while len(data) % 4:
            data.append(0)
        raw = array.tobytes()
        views.append({"buffer": 0, "byteOffset": len(data), "byteLength": len(raw), "target": target})
        data.extend(raw)
        count = len(array) if form == "VEC3" else array.size
        accessors.append({"bufferView": len(views) - 1, "componentType": kind, "count": count, "type": form, **more})
        return len(accessors) - 1

    for part, mesh in listed:
        x, y, z = (mesh.corners[:, k] / 1e3 for k in range(3))
        corners = np.stack([x, z, -y], axis=1).astype("<f4")
        low, high = corners.min(axis=0), corners.max(axis=0)
        at = put(corners, _CORNERS, _FLOAT, "VEC3", min=[float(v) for v in low], max=[float(v) for v in high])
        small = len(corners) < 65535
        faces = mesh.faces.astype("<u2" if small else "<u4")
        which = put(faces, _FACES, _SHORT if small else _INT, "SCALAR")
        piece = {"attributes": {"POSITION": at}, "indices": which, "material": materials.index(part.material)}
        shapes.append({"name": part.name, "primitives": [piece]})
        told = {"kind": part.kind, "way": part.way, "material": part.material, "serves": part.serves}
        nodes.append({"name": part.name, "mesh": len(shapes) - 1, "extras": told})
    whole = {
        "asset": {"version": "2.0", "generator": "Nestwright"},
        "scene": 0,
        "scenes": [{"name": title, "nodes": list(range(len(nodes)))}],
        "nodes": nodes,
        "meshes": shapes,
        "materials": [_material(name) for name in materials],
        "accessors": accessors,
        "bufferViews": views,
        "buffers": [{"byteLength": len(data)}],
    }
    text = json.dumps(whole, separators=(",", ":"), ensure_ascii=False).encode()
    text += b" " * (-len(text) % 4)
    data.extend(b"\0" * (-len(data) % 4))
    size = 12 + 8 + len(text) + 8 + len(data)
    head = struct.pack("<4sII", b"glTF", 2, size)
    return (
        head + struct.pack("<I4s", len(text), b"JSON") + text + struct.pack("<I4s", len(data), b"BIN\0") + bytes(data)
    )


def _material(name: str) -> dict[str, Any]:
    colour = colour_of(name)
    metal = 0.8 if name in ("stainless steel", "aluminium") else 0.0
    made = {
        "name": name,
        "pbrMetallicRoughness": {"baseColorFactor": list(colour), "metallicFactor": metal, "roughnessFactor": 0.6},
        "doubleSided": True,
    }
    return made | ({"alphaMode": "BLEND"} if colour[3] < 1 else {})
