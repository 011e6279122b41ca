"""A habitat's parts put together as one glTF 2.0 binary, for the page to draw: nodes by name, metres, y up."""

from __future__ import annotations

import json
import struct
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from nestwright.parts.model import Assembly
    from nestwright.parts.triangles import Triangles

__all__ = ["COLOURS", "together"]

COLOURS = {
    "acrylic": (0.74, 0.83, 0.86, 0.38), "polycarbonate": (0.76, 0.82, 0.84, 0.38), "glass": (0.70, 0.82, 0.77, 0.34),
    "plaster": (0.87, 0.84, 0.77, 1.0), "aerated concrete": (0.80, 0.79, 0.76, 1.0), "ceramic": (0.76, 0.55, 0.42, 1.0),
    "cork": (0.64, 0.48, 0.31, 1.0), "plywood": (0.79, 0.66, 0.47, 1.0), "PLA": (0.52, 0.55, 0.63, 1.0),
    "PETG": (0.43, 0.54, 0.48, 1.0), "ABS": (0.48, 0.48, 0.47, 1.0), "aluminium": (0.74, 0.75, 0.77, 1.0),
    "stainless steel": (0.60, 0.62, 0.65, 1.0), "silicone": (0.82, 0.80, 0.76, 1.0),
    "polyethylene foam": (0.88, 0.87, 0.83, 1.0),
}  # fmt: skip
"""Quiet colours by material, sRGB and how much they cover: a guess at how each looks, for telling parts apart."""
OTHER = (0.66, 0.66, 0.62, 1.0)
_UP = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])
"""x, y, z with z up to glTF's, in which y is up."""


def together(assembly: Assembly, triangles: Mapping[str, Triangles]) -> bytes:
    """All parts where they stand.

    Parameters
    ----------
    assembly : Assembly
    triangles : mapping
        By name of part, mm, in the habitat's frame. Parts without any are left out.
    """
    parts = [part for part in assembly.parts if part.name in triangles]
    materials = sorted({part.material for part in parts})
    binary = bytearray()
    views: list[dict[str, Any]] = []
    accessors: list[dict[str, Any]] = []

    def put(values: Any, target: int, **more: Any) -> int:
        raw = values.tobytes()
        views.append({"buffer": 0, "byteOffset": len(binary), "byteLength": len(raw), "target": target})
        accessors.append({"bufferView": len(views) - 1, "count": len(values), **more})
        binary.extend(raw)
        return len(accessors) - 1

    meshes = []
    for part in parts:
        mesh = triangles[part.name]
        corners = (mesh.corners @ _UP.T / 1e3).astype("<f4")
        ends = {"min": corners.min(axis=0).tolist(), "max": corners.max(axis=0).tolist()}
        where = put(corners, 34962, componentType=5126, type="VEC3", **ends)
        order = put(mesh.faces.astype("<u4").reshape(-1), 34963, componentType=5125, type="SCALAR")
        drawn = {"attributes": {"POSITION": where}, "indices": order, "material": materials.index(part.material)}
        meshes.append({"name": part.name, "primitives": [drawn]})
    told: dict[str, Any] = {"asset": {"version": "2.0", "generator": "Nestwright"}, "scene": 0}
    if parts:
        numbers = list(range(len(parts)))
        told |= {
            "scenes": [{"name": assembly.habitat, "nodes": numbers}],
            "nodes": [{"name": part.name, "mesh": n} for n, part in enumerate(parts)],
            "meshes": meshes,
            "materials": [_material(name) for name in materials],
            "accessors": accessors,
            "bufferViews": views,
            "buffers": [{"byteLength": len(binary)}],
        }
    else:
        told |= {"scenes": [{"name": assembly.habitat}]}
    return _glb(told, bytes(binary))


def _material(name: str) -> dict[str, Any]:
    *rgb, cover = COLOURS.get(name, OTHER)
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in rgb]  # IEC 61966-2-1
    look = {"baseColorFactor": [*(round(c, 4) for c in linear), cover], "metallicFactor": 0.0, "roughnessFactor": 0.8}
    return {"name": name, "pbrMetallicRoughness": look, "alphaMode": "BLEND" if cover < 1 else "OPAQUE"}


def _glb(told: dict[str, Any], binary: bytes) -> bytes:
    """Header and chunks (glTF 2.0 specification, chapter 4)."""
    text = json.dumps(told, ensure_ascii=False, separators=(",", ":")).encode()
    chunks = b""
    for kind, content, blank in ((0x4E4F534A, text, b" "), (0x004E4942, binary, b"\0")):
        if content:
            whole = content + blank * (-len(content) % 4)
            chunks += struct.pack("<II", len(whole), kind) + whole
    return struct.pack("<III", 0x46546C67, 2, 12 + len(chunks)) + chunks
