"""What goes into a habitat: stock, bought items, hours of machines and hands, energy; for one and for a batch's start.

Every line is linear in the number made: `set_up` once a batch and `each` for every habitat. Whole sheets, tubes and
plates are not rounded up here; `nestwright.parts.batch` packs them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from nestwright.data import load_materials
from nestwright.errors import InputError, nearest_name
from nestwright.parts.model import Assembly, Measured, Part
from nestwright.parts.prices import Need
from nestwright.parts.rates import Rates

__all__ = ["Line", "bill_of", "job_seconds", "round_stock"]

HOUR = 3600.0
JOULES = 3.6e6
"""In a kWh."""


@dataclass(frozen=True)
class Line:
    """An amount of something with a price: `set_up` once a batch and `each` for every habitat, in `need.unit`.

    `part` is the name of the part it goes into, or what is done with the whole habitat; `task` what is done.
    """

    need: Need
    part: str
    task: str
    set_up: float
    each: float

    def amount(self, count: int) -> float:
        """What a batch of `count` habitats needs."""
        return self.set_up + count * self.each


def bill_of(assembly: Assembly, measured: Mapping[str, Measured], rates: Rates) -> tuple[Line, ...]:
    """Bill of materials and work of one habitat.

    Parameters
    ----------
    assembly : Assembly
        Parts and joints.
    measured : mapping
        Volume, surface, box and cuts of every part by its name (for one piece).
    rates : Rates
        As of `nestwright.parts.rates`, SI.

    Raises
    ------
    InputError
        For a part that was not measured, or whose material has no density.
    """
    lines: list[Line] = []
    set_up: set[tuple[str, ...]] = set()
    for part in assembly.parts:
        if part.kind == "coupon":  # made once for a printer, not for a habitat
            continue
        size = measured.get(part.name)
        if size is None and part.way != "bought":
            raise InputError("was not measured", field=part.name, found="no size", allowed="every part to be made")
        group = _group(part)
        lines += _Making(part, size, rates, first=group not in set_up).lines()
        set_up.add(group)
    return (*lines, *_whole(assembly, rates))


def _group(part: Part) -> tuple[str, ...]:
    """Parts that one set-up serves: one material in one thickness on a laser or by hand, one filament, one order; what
    is milled, turned or cast is set up part by part."""
    if part.way in ("milled", "turned", "cast") or part.kind == "mould":
        return (part.way, part.name)
    thick = f"{1000 * part.sheet.thickness:.2f}" if part.sheet is not None else ""
    return (part.way, part.material if part.way != "bought" else part.note or part.name, thick)


def job_seconds(part: Part, size: Measured, rates: Rates) -> float:
    """Seconds that a machine works on one piece of a part, without what fails; 0 for work by hand and bought items."""
    return _Making(part, size, rates).machine()


def round_stock(part: Part, size: Measured) -> tuple[str, float, float, float]:
    """Form, outer diameter, wall (0: solid), length of what a round part is cut or turned from, m.

    Cut: a tube or rod of just this size. Turned: a blank, any tube or rod that has the part in it.
    """
    sizes = part.sizes
    wall = sizes.get("wall", 0.0)
    outer = sizes.get("outer") or max(size.box[0], size.box[1])
    length = sizes.get("blank_length") or sizes.get("length") or size.box[2]
    hollow = 0 < 2 * wall < outer and not sizes.get("roof")
    form = "blank" if part.way == "turned" else "tube" if hollow else "rod"
    return form, round(outer, 6), round(wall, 6) if hollow else 0.0, length


class _Making:
    """One part and how it is made; amounts are for one habitat, with what fails on the way."""

    def __init__(self, part: Part, size: Measured | None, rates: Rates, *, first: bool = True) -> None:
        self.part, self.rates, self.way, self.first = part, rates, part.way, first
        self.size = size or Measured(part.name, 0.0, 0.0, 0.0, (0.0, 0.0, 0.0))
        self.tried = part.quantity / (1 - self.rate("scrap"))

    def rate(self, name: str, way: str = "") -> float:
        return self.rates[f"{way or self.way}.{name}"].value

    def lines(self) -> Iterator[Line]:
        need, amount = self.stock()
        yield self.line(need, "material" if need.kind == "stock" else "bought", amount * self.tried)
        work = self.machine()
        if work:
            yield self.line(Need("machine", "h", self.way), "machine", work * self.tried / HOUR)
            energy = work * self.rate("power") * self.tried / JOULES
            yield self.line(Need("energy", "kWh"), "energy", energy)
        hands = self.hands() * self.tried / HOUR
        yield self.line(Need("labour", "h"), self.way, hands, self.rate("set_up") / HOUR if self.first else 0.0)

    def line(self, need: Need, task: str, each: float, set_up: float = 0.0) -> Line:
        if self.part.kind == "mould":
            # one mould serves many castings: one for every batch, and its share of the next
            return Line(need, self.part.name, task, set_up + each, each / self.rate("mould_life", "cast"))
        return Line(need, self.part.name, task, set_up, each)

    def density(self) -> float:
        known = load_materials()
        if self.part.material not in known:
            near = nearest_name(self.part.material, known)
            place: dict[str, Any] = {"field": self.part.name, "found": repr(self.part.material)}
            raise InputError(
                "the density of the material is not known", **place, allowed=", ".join(known), nearest=near
            )
        return known[self.part.material].density

    def stock(self) -> tuple[Need, float]:
        """What one piece is made from, and how much of it."""
        return _STOCK[self.way](self)

    def machine(self) -> float:
        """Seconds of a machine for one piece."""
        return _WORK[self.way](self) if self.way in _WORK else 0.0

    def hands(self) -> float:
        """Seconds of labour for one piece."""
        along = self.size.cut * self.rate("along") if self.way == "cut" else 0.0
        return self.rate("piece") + along

    def of(self, form: str, unit: str, thickness: float = 0.0, outer: float = 0.0, wall: float = 0.0) -> Need:
        sizes = (round(one, 6) for one in (thickness, outer, wall))
        return Need("stock", unit, "", self.part.material, form, *sizes)

    def filament(self) -> tuple[Need, float]:
        solid = self.size.volume * (self.rate("fill") + self.rate("support"))
        return self.of("filament", "kg"), solid * self.density() + self.rate("purge")

    def resin(self) -> tuple[Need, float]:
        return self.of("resin", "kg"), self.size.volume * (1 + self.rate("support")) * self.density()

    def powder(self) -> tuple[Need, float]:
        return self.of("powder", "kg"), self.size.volume * (1 + self.rate("waste")) * self.density()

    def sheet(self) -> tuple[Need, float]:
        assert self.part.sheet is not None
        # a milled sheet is clamped as a hand-cut one is: no rate of its own
        use = self.rate("sheet_use", "laser" if self.way == "laser" else "cut")
        area = self.size.footprint or self.size.box[0] * self.size.box[1]
        woven = self.part.pattern if self.part.kind == "mesh" else None
        if woven is not None:
            return self.of("mesh", "m2", 0.0, woven.aperture, woven.wire), area / use
        return self.of("sheet", "m2", self.part.sheet.thickness), area / use

    def cut(self) -> tuple[Need, float]:
        if self.part.sheet is not None:
            return self.sheet()
        form, outer, wall, length = round_stock(self.part, self.size)
        return self.of(form, "m", 0.0, outer, wall), (length + self.rate("kerf")) / self.rate("bar_use")

    def turned(self) -> tuple[Need, float]:
        form, outer, wall, length = round_stock(self.part, self.size)
        return self.of(form, "m", 0.0, outer, wall), (length + 2 * self.rate("allowance")) / self.rate("bar_use")

    def block(self) -> tuple[Need, float]:
        if self.part.sheet is not None:
            return self.sheet()
        return self.of("block", "kg"), self.rough() * self.density()

    def bought(self) -> tuple[Need, float]:
        return Need("bought", "each", self.part.note or self.part.name), 1.0

    def rough(self) -> float:
        """Volume of the block that is milled."""
        extra = 2 * self.rate("allowance")
        x, y, z = self.size.box
        return (x + extra) * (y + extra) * (z + extra)

    def printing(self) -> float:
        solid = self.size.volume * (self.rate("fill") + self.rate("support"))
        layers = self.size.box[2] / self.rate("layer_height")
        return solid / self.rate("deposition") + layers * self.rate("layer_change") + self.rate("start")

    def curing(self) -> float:
        """A plate takes its time by height, however many pieces are on it: each bears its share of the plate."""
        share = min(1.0, self.size.box[0] * self.size.box[1] / self.rate("plate"))
        return self.size.box[2] / self.rate("layer_height") * self.rate("layer_time") * share

    def cutting(self) -> float:
        assert self.part.sheet is not None
        cut = self.size.cut * self.part.sheet.thickness / self.rate("cut_area")
        pierced = (1 + len(self.part.sheet.openings)) * self.rate("pierce")
        return cut + pierced + self.size.engraved / self.rate("engrave_speed") + self.rate("start")

    def milling(self) -> float:
        if self.part.sheet is not None:  # out of a sheet: a slot of the allowance's width along every cut
            off = self.size.cut * self.rate("allowance") * self.part.sheet.thickness
            return off / self.rate("removal") + self.rate("start")
        off = max(0.0, self.rough() - self.size.volume)
        return off / self.rate("removal") + self.size.surface / self.rate("finish") + self.rate("start")

    def turning(self) -> float:
        _, outer, wall, length = round_stock(self.part, self.size)
        inner = outer - 2 * wall if wall else 0.0
        stock = math.pi / 4 * (outer**2 - inner**2) * (length + 2 * self.rate("allowance"))
        off = max(0.0, stock - self.size.volume)
        return off / self.rate("removal") + self.size.surface / self.rate("finish") + self.rate("start")


_STOCK: dict[str, Callable[[_Making], tuple[Need, float]]] = {
    "printed": _Making.filament,
    "resin": _Making.resin,
    "laser": _Making.sheet,
    "milled": _Making.block,
    "turned": _Making.turned,
    "cast": _Making.powder,
    "cut": _Making.cut,
    "bought": _Making.bought,
}
_WORK: dict[str, Callable[[_Making], float]] = {
    "printed": _Making.printing,
    "resin": _Making.curing,
    "laser": _Making.cutting,
    "milled": _Making.milling,
    "turned": _Making.turning,
}


def _whole(assembly: Assembly, rates: Rates) -> Iterator[Line]:
    """What is done with the habitat as a whole: joining, cleaning, checking, packing."""

    def minutes(name: str) -> float:
        return rates[name].value / HOUR

    labour = Need("labour", "h")
    pieces = sum(p.quantity for p in assembly.parts if p.kind not in ("mould", "coupon"))
    joining = sum(minutes(f"assembly.{joint.kind}") for joint in assembly.joints)
    each = pieces * minutes("assembly.part") + joining
    yield Line(labour, assembly.habitat, "assembly", minutes("assembly.set_up"), each)
    for task in ("cleaning", "checks", "packing"):
        yield Line(labour, assembly.habitat, task, 0.0, minutes(f"finish.{task}"))
    yield Line(Need("packing", "each"), assembly.habitat, "packing", 0.0, 1.0)
