"""The woven mesh of a standard size that stops the smallest worker and lets most air through."""

from __future__ import annotations

import math
from dataclasses import dataclass

from nestwright.data import Mesh, SpeciesCard, load_meshes
from nestwright.errors import InputError
from nestwright.parts.ant_values import stop_of

__all__ = ["MeshChoice", "choose_mesh", "widest_opening"]


@dataclass(frozen=True)
class MeshChoice:
    """`mesh` as chosen; `widest` its widest single opening and `stop` what it must stay below, m; `open_area` of one
    port and `needed`, m2; `ports` that give the needed area, or one port of diameter `port_needed`, m."""

    mesh: Mesh
    widest: float
    stop: float
    open_area: float
    needed: float
    ports: int
    port_needed: float

    @property
    def enough(self) -> bool:
        return self.ports <= 1


def widest_opening(aperture: float) -> float:
    """Widest single opening that a standard mesh of this nominal aperture may have, m.

    References
    ----------
    ISO 3310-1:2000, X = 2/3 w^0.75 + 4 w^0.25 micrometres; value from memory. The edition of 2016 allows about a tenth
    less.
    """
    w = aperture * 1e6
    return aperture + (2 / 3 * w**0.75 + 4 * w**0.25) * 1e-6


def choose_mesh(card: SpeciesCard, needed: float, port: float) -> MeshChoice:
    """Coarsest mesh of ISO 3310-1 of which no opening lets the smallest worker pass.

    Parameters
    ----------
    card : SpeciesCard
        Its head width at the low end of the range is what must be stopped.
    needed : float
        Open area for air, m2; 0 where any will do.
    port : float
        Diameter of one meshed port, m.

    Raises
    ------
    InputError
        For a port or an area that is none, or where no standard mesh is fine enough.

    Notes
    -----
    A coarser mesh of a size has the larger share of openings as a rule, so among the tight ones that of the largest
    open area is taken, the coarser of equals.
    """
    if not port > 0 or not needed >= 0:
        raise InputError("is no size of a port", field="mesh", found=f"{port * 1e3:.4g} mm, {needed * 1e4:.4g} cm2")
    stop = stop_of(card).sure
    tight = [m for m in load_meshes() if widest_opening(m.aperture) <= stop]
    if not tight:
        finest = widest_opening(load_meshes()[0].aperture)
        raise InputError("no standard mesh stops the smallest worker", field="mesh", found=f"{stop * 1e3:.3g} mm",
                         allowed=f"at least {finest * 1e3:.3g} mm")  # fmt: skip

    def share(mesh: Mesh) -> float:
        return (mesh.aperture / (mesh.aperture + mesh.wire)) ** 2

    mesh = max(tight, key=lambda m: (round(share(m), 6), m.aperture))
    area = math.pi / 4 * port**2 * share(mesh)
    ports = max(1, math.ceil(needed / area - 1e-9))
    return MeshChoice(
        mesh, widest_opening(mesh.aperture), stop, area, needed, ports, math.sqrt(4 / math.pi * needed / share(mesh))
    )
