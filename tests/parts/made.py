"""A small invented habitat in parts, made by hand: what rules, bills and batches are tried on without solids."""

import math
from pathlib import Path

from nestwright.parts.model import Assembly, Feature, Joint, Measured, Part, Sheet

ROOT = Path(__file__).parents[2]
PRICES = ROOT / "examples/workshop/parts/prices.toml"


def panel(name, width, depth, *, quantity=1, thickness=0.003, way="laser", material="acrylic", line=9):
    """A sheet of width x depth m."""
    outline = ((0.0, 0.0), (width, 0.0), (width, depth), (0.0, depth))
    sheet = Sheet(outline, (), (), thickness)
    return Part(name, "panel", "chamber.pot", way, material, quantity, {}, sheet=sheet, line=line)


def measured_panel(part):
    (_, _), (width, _), (_, depth), _ = part.sheet.outline
    t = part.sheet.thickness
    volume = width * depth * t
    surface = 2 * (width * depth + (width + depth) * t)
    return Measured(
        part.name, volume, surface, 1050 * volume, (width, depth, t), 2 * (width + depth), 0.0, width * depth
    )


def assembly():
    """Four sides and a base of acrylic, a printed collar, a plaster block from its printed mould, plugs."""
    parts = (
        panel("side", 0.1, 0.06, quantity=4),
        panel("base", 0.1, 0.1),
        Part("collar", "port", "vent.crown", "printed", "PETG", 2, {"outer": 0.03, "height": 0.02}, line=21,
             features=(Feature("bore", "bore", 0.012, side="ants"),)),
        Part("block", "block", "water.tile", "cast", "plaster", 1, {}, line=30),
        Part("block mould", "mould", "water.tile", "printed", "PLA", 1, {}, line=30),
        Part("plug", "plug", "passage.way", "bought", "silicone", 2, {}, note="silicone plug 12 mm", line=40),
    )  # fmt: skip
    joints = (
        Joint("sides on base", "base", "side", 0.1, 0.0, 0.003, kind="glued"),
        Joint("plug in collar", "collar", "plug", 0.012, 0.0, 0.01, kind="pressed"),
    )
    return Assembly("Small pot", "2", "0" * 64, parts, joints)


def measured():
    """Sizes of its parts by closed form: a ring 30 x 12 x 20 mm, a block 80 x 80 x 20 mm, its mould as a 2 mm shell."""
    whole = assembly()
    found = {p.name: measured_panel(p) for p in whole.parts if p.sheet is not None}
    ring = math.pi / 4 * (0.03**2 - 0.012**2) * 0.02
    around = math.pi * 0.042 * 0.02 + math.pi / 2 * (0.03**2 - 0.012**2)
    found["collar"] = Measured("collar", ring, around, 1270 * ring, (0.03, 0.03, 0.02))
    block = 0.08 * 0.08 * 0.02
    found["block"] = Measured("block", block, 2 * (0.0064 + 0.0032), 1000 * block, (0.08, 0.08, 0.02))
    shell = 0.084 * 0.084 * 0.022 - block
    found["block mould"] = Measured("block mould", shell, 0.04, 1240 * shell, (0.084, 0.084, 0.022))
    return found
