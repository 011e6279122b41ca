"""Colours of a cross-section, and the key that explains them."""

from __future__ import annotations

from collections.abc import Sequence

from nestwright.charts.marks import line
from nestwright.charts.marks import text as write
from nestwright.charts.theme import INK, LINE, QUIET, WIDTH, clean

__all__ = ["AIR", "FILL", "VAPOUR", "humidity_colour", "key_svg", "tint"]

AIR, VAPOUR = INK, "#1f5a8c"
MATERIALS = {
    "glass": "#e4e9e6",
    "acrylic": "#eceae3",
    "cork": "#d0b68c",
    "polyethylene foam": "#f4ecd0",
    "aluminium": "#b4b8ba",
    "stainless steel": "#9aa0a3",
}
SPARE = ("#d8cfc6", "#c6c9b4", "#e0d6e0", "#b7aa9b")
DRY, DAMP = (0.3, (247, 240, 219)), (1.0, (120, 170, 201))
FILL = {"water": "#4f87ad", "garden": "#a9a378", "heater": "#a3471f", "sensor": "#22261f", "passage": "#eef2f1"}


def humidity_colour(relative_humidity: float) -> str:
    """Sand at 30 % and below, water blue at saturation; straight between them."""
    part = max(0.0, min(1.0, (relative_humidity - DRY[0]) / (DAMP[0] - DRY[0])))
    return "#" + "".join(f"{round(a + part * (b - a)):02x}" for a, b in zip(DRY[1], DAMP[1], strict=True))


def tint(material: str, materials: list[str]) -> str:
    """Colour of a wall's material; one without a colour of its own gets a spare one by its place in the list."""
    return MATERIALS.get(material) or SPARE[materials.index(material) % len(SPARE)]


def key_svg(
    materials: list[str], kinds: Sequence[str], proven: bool, y: float, out: list[str], width: int = WIDTH
) -> float:
    """Materials, and with a proof the scale of humidity and the two arrows."""
    x, y = 12.0, y + 22
    items = [(clean(m, 24), tint(m, materials)) for m in materials]
    items += [(kind, FILL[kind]) for kind in kinds]
    for name, colour in items:
        wide = 30 + len(name) * 7.4
        if x + wide > width - 10:
            x, y = 12.0, y + 22
        out.append(
            f'<rect x="{x:.1f}" y="{y - 11:.1f}" width="14" height="14" fill="{colour}" '
            f'stroke="{QUIET}" stroke-width="0.7"/>'
        )
        out.append(write(x + 20, y + 1, name))
        x += wide + 6
    if not proven:
        return y + 12
    y += 26
    for k in range(14):
        rh = 0.3 + 0.7 * k / 13
        out.append(f'<rect x="{12 + 9 * k}" y="{y - 11:.1f}" width="9.5" height="14" fill="{humidity_colour(rh)}"/>')
    out.append(f'<rect x="12" y="{y - 11:.1f}" width="126.5" height="14" fill="none" stroke="{LINE}"/>')
    out.append(write(146, y + 1, "air at 30 to 100 % RH"))
    x, y = (312.0, y) if width >= WIDTH else (12.0, y + 22)
    out.append(line((x, y - 4, x + 24, y - 4), f'stroke="{AIR}" stroke-width="1.5" marker-end="url(#air)"'))
    out.append(write(x + 35, y + 1, "air"))
    vapour = (x + 72, y - 4, x + 96, y - 4)
    out.append(line(vapour, f'stroke="{VAPOUR}" stroke-width="1.5" marker-end="url(#vapour)"'))
    out.append(write(x + 107, y + 1, "vapour by diffusion"))
    return y + 12
