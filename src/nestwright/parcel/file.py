"""Read a parcel file: TOML text in, a parcel in SI out, or one list of everything that is wrong with it."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright.data import Material, load_materials, load_species, parcel_materials, read_values
from nestwright.document import Document, read_document
from nestwright.errors import FileError, InputError, nearest_name
from nestwright.kinds import check_kind
from nestwright.parcel.model import Box, Cup, Filler, Holes, Layers, Leg, Pack, Parcel
from nestwright.parcel.outside import read_outside
from nestwright.positions import line_of, path_text
from nestwright.refusals import Steps, keys_of, translate

if TYPE_CHECKING:
    from nestwright.parcel.form import BoxForm, CupForm, HolesForm, PackForm, ParcelForm

__all__ = ["all_materials", "parcel_from", "read_parcel"]

MOST_FILL = 0.98


def all_materials() -> Mapping[str, Material]:
    """Materials of walls and of parcels, by name, SI."""
    return load_materials() | parcel_materials()


def read_parcel(path: str | Path) -> Parcel:
    """Read and check a parcel file.

    Raises
    ------
    FileError
        (an `InputError`) with every error of the file: what was found, where, what is allowed, the nearest name.
    """
    return parcel_from(read_document(path))


def parcel_from(document: Document) -> Parcel:
    """As `read_parcel`, from a document; files that it names are sought beside it."""
    from pydantic import ValidationError

    from nestwright.parcel.form import ParcelForm

    check_kind(document, "parcel")
    reading = _Reading(document, Path(document.path).parent)
    try:
        form = ParcelForm.model_validate(document.tables)
    except ValidationError as error:
        found = [translate(e, reading.place, _known) for e in error.errors(include_url=False)]
        raise FileError(sorted(found, key=lambda e: e.line)) from None
    parcel = reading.build(form)
    if reading.errors:
        raise FileError(sorted(reading.errors, key=lambda e: e.line))
    return parcel


def _known(path: Steps) -> list[str]:
    from nestwright.parcel.form import TABLES

    return keys_of(TABLES.get(tuple(s for s in path if isinstance(s, str)), TABLES[()]))


@dataclass
class _Reading:
    document: Document
    folder: Path
    errors: list[InputError] = field(default_factory=list)
    assumed: list[str] = field(default_factory=list)

    def place(self, path: Steps) -> dict[str, Any]:
        lines = self.document.lines
        return {"file": self.document.path, "line": line_of(lines, path), "field": path_text(path)}

    def fault(self, path: Steps, message: str, **rest: str) -> None:
        where = self.place(path)
        self.errors.append(InputError(message, **where, **rest))  # type: ignore[arg-type]

    def build(self, form: ParcelForm) -> Parcel:
        values = read_values("parcel.toml")
        try:
            card = load_species(form.species)
        except InputError as e:
            self.fault(("species",), e.message, found=e.found, allowed=e.allowed, nearest=e.nearest)
            card = load_species("Atta cephalotes")
        box, cup = self._box(form.box), self._cup(form.cup)
        self._fits(box, cup)
        filler = None
        if form.filler is not None:
            self._material(("filler", "material"), form.filler.material)
            filler = Filler(form.filler.material, min(form.filler.share, MOST_FILL))
        packs = tuple(self._pack(k, one, filler) for k, one in enumerate(form.pack))
        self._packs_fit(box, cup, packs)
        if len({one.kind for one in packs}) > 1:
            self.fault(("pack", 1, "kind"), "a heat pack and a cold pack in one box", allowed="packs of one kind")
        if form.promised is not None and form.promised <= form.dispatch:
            self.fault(
                ("promised",), "lies before the dispatch", found=str(form.promised), allowed=f"after {form.dispatch}"
            )
        elif form.promised is not None and form.leg:
            # what is late is counted from the promise: a way that ends on another day would count twice or not at all
            ends = form.dispatch + timedelta(hours=sum(leg.hours for leg in form.leg))
            if ends.date() != form.promised.date():
                allowed = f"{ends:%Y-%m-%d}, the day on which the legs end, or legs with the hours that it waits"
                found = f"{form.promised:%Y-%m-%d %H:%M}, while the way ends {ends:%Y-%m-%d %H:%M}"
                self.fault(("promised",), "is another day than the legs say", found=found, allowed=allowed)
        if form.packed_at is None:
            self.assumed.append("packed_at")
        return Parcel(
            form.name,
            card,
            box,
            filler,
            cup,
            packs,
            self._legs(form),
            form.dispatch,
            values["packed_at"].value if form.packed_at is None else form.packed_at,
            form.altitude,
            form.promised,
            tuple(self.assumed),
        )

    def _box(self, form: BoxForm) -> Box:
        for k, (_, material) in enumerate(form.layers):
            self._material(("box", "layers", k), material)
        holes = self._holes(form.holes)
        return Box(form.width, form.depth, form.height, tuple(form.layers), form.seam_gap, holes)

    def _cup(self, form: CupForm) -> Cup:
        wall: Layers
        if form.wall is None:
            wall = ((read_values("parcel.toml")["cup_material_thickness"].value, "polypropylene"),)
            self.assumed.append("cup.wall")
        else:
            wall = (form.wall,)
            self._material(("cup", "wall"), form.wall[1])
        room = form.volume - form.garden - form.cotton / 1000
        if room < 0.05 * form.volume:
            self.fault(
                ("cup", "garden"),
                "garden and cotton leave no air in the cup",
                found=f"{(form.garden * 1e6 + form.cotton * 1e3):.4g} mL",
                allowed=f"at most {0.95 * form.volume * 1e6:.4g} mL",
            )
        return Cup(form.volume, wall, self._holes(form.holes), form.garden, form.workers, form.cotton, form.position)

    def _holes(self, form: HolesForm | None) -> Holes | None:
        return None if form is None else Holes(form.count, form.width)

    def _fits(self, box: Box, cup: Cup) -> None:
        # a cup as high as wide: it fits when that size fits the smallest inside size
        size = (4 * cup.volume / 3.141592653589793) ** (1 / 3)
        smallest = min(box.width, box.depth, box.height)
        if cup.volume >= box.volume or size > smallest:
            found = f"{cup.volume * 1e6:.4g} mL, about {size * 1e3:.0f} mm wide and high"
            allowed = f"within {smallest * 1e3:.4g} mm, the box's smallest inside size"
            self.fault(("cup", "volume"), "the cup is larger than the box", found=found, allowed=allowed)

    def _packs_fit(self, box: Box, cup: Cup, packs: tuple[Pack, ...]) -> None:
        # a gram of pack takes about a millilitre
        share = read_values("parcel.toml")["mix_iron_share"].value
        taken = sum(k.number * max(k.gel, k.iron / share) for k in packs) / 1000
        left = max(box.volume - cup.volume, 0.0)
        if taken > left > 0:
            found, allowed = f"{taken * 1e3:.3g} kg of packs", f"at most {left * 1e3:.3g} kg, a litre for each"
            self.fault(("pack", 0, "number"), "the packs do not fit beside the cup", found=found, allowed=allowed)

    def _material(self, path: Steps, name: str) -> None:
        known = all_materials()
        if name not in known:
            nearest = nearest_name(name, known)
            self.fault(path, "no such material", found=repr(name), allowed=", ".join(known), nearest=nearest)

    def _pack(self, k: int, form: PackForm, filler: Filler | None) -> Pack:
        at: Steps = ("pack", k)
        if form.place == "wrapped" and filler is None:
            self.fault((*at, "place"), "there is no filler to wrap it in", allowed="side, top, or a [filler]")
        if form.kind == "cold":
            return self._cold(at, form)
        for key in ("gel", "latent", "starts_at"):
            if getattr(form, key) is not None:
                self.fault((*at, key), "goes with a cold pack", allowed="curve, or iron and duration")
        if form.bag == "sealed":
            self.fault(
                (*at, "bag"),
                "a heat pack in a sealed bag has no oxygen and gives no heat; never seal one in with animals: it takes "
                "their oxygen, and where it does heat nothing keeps it from burning them",
                found="sealed",
                allowed="open",
            )
        if (form.curve is None) == (form.iron is None):
            self.fault(at, "a heat pack is told by its curve or by its iron", allowed="one of curve and iron")
        if form.iron is not None and form.duration is None:
            self.fault(at, "the key 'duration' is missing", allowed="how long the iron lasts in free air, as '40 h'")
        curve = None if form.curve is None else self._curve((*at, "curve"), form.curve)
        return Pack(
            "heat", form.place, form.number, curve, form.iron or 0.0, form.duration or 0.0, max(form.start, 1.0)
        )

    def _cold(self, at: Steps, form: PackForm) -> Pack:
        values = read_values("parcel.toml")
        for key in ("curve", "iron", "duration"):
            if getattr(form, key) is not None:
                self.fault((*at, key), "goes with a heat pack", allowed="gel, melts_at, latent, starts_at")
        if not form.gel:
            self.fault(at, "the key 'gel' is missing or zero", allowed="mass of gel, as '300 g'")
        if form.latent is None:
            self.assumed.append("pack.latent")
        start = form.melts_at if form.starts_at is None else form.starts_at
        latent = values["ice_latent"].value if form.latent is None else form.latent * 1e3
        return Pack(
            "cold",
            form.place,
            form.number,
            gel=form.gel or 1e-3,
            melts_at=form.melts_at,
            latent=latent,
            starts_at=start,
        )

    def _curve(self, path: Steps, name: str) -> tuple[tuple[float, ...], tuple[float, ...]] | None:
        file = self.folder / name
        try:
            with open(file, encoding="utf-8-sig", newline="") as text:
                lines = [(n, row) for n, row in enumerate(csv.reader(text), 1) if row and not row[0].startswith("#")]
        except (OSError, ValueError, csv.Error):
            self.fault(path, "cannot be read", found=repr(name), allowed="a CSV of hours and W beside this file")
            return None
        allowed = "a header 'hours,W', then rising hours from 0 and W from 0 to 200"
        points: list[tuple[float, float]] = []
        for n, row in lines[1:]:
            try:
                hours, watts = float(row[0]), float(row[1])
            except (ValueError, IndexError):
                hours = watts = float("nan")
            if not (0 <= hours <= 1000 and 0 <= watts <= 200):
                found = ",".join(row)[:60]
                self.errors.append(
                    InputError("is no hour with its heat", file=str(file), line=n, found=found, allowed=allowed)
                )
                return None
            points.append((hours, watts))
        header = [cell.strip() for cell in lines[0][1]] if lines else []
        if header[:2] != ["hours", "W"] or len(points) < 2 or any(b[0] <= a[0] for a, b in pairwise(points)):
            self.errors.append(InputError("is no curve of a pack", file=str(file), line=1, allowed=allowed))
            return None
        return tuple(h for h, _ in points), tuple(w for _, w in points)

    def _legs(self, form: ParcelForm) -> tuple[Leg, ...]:
        if not form.leg:
            self.fault((), "the route has no legs", allowed="one [[leg]] or more with name, hours, outside")
        if sum(leg.hours for leg in form.leg) > 480:
            self.fault(("leg", 0, "hours"), "the whole way is too long", allowed="at most 480 hours")
        if sum(leg.waits for leg in form.leg) > 1:
            self.fault(("leg", 0, "waits"), "a late parcel waits in one leg", allowed="waits = true once")
        legs = []
        for k, leg in enumerate(form.leg):
            try:
                room, by_day = read_outside(leg.outside, self.folder, form.dispatch, form.altitude)
            except InputError as e:
                if e.file and e.line:
                    self.errors.append(e)
                else:
                    self.fault(("leg", k, "outside"), e.message, found=e.found, allowed=e.allowed, nearest=e.nearest)
                continue
            legs.append(Leg(leg.name, leg.hours, leg.outside, room, by_day, leg.waits))
        return tuple(legs)
