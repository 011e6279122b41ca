"""Check a design: what cannot be built or proved is an error, what deserves a second look a warning."""

from __future__ import annotations

from collections.abc import Iterator

from nestwright.errors import nearest_name
from nestwright.habitat.findings import Finding
from nestwright.habitat.fit import check_fit
from nestwright.habitat.model import Habitat, Layer
from nestwright.habitat.places import check_places

__all__ = ["Finding", "check_habitat"]

WATER_CAUTION = (
    "heat and water meet here: use a sealed heater on safety extra-low voltage, with a cut-out; mains wiring near "
    "water can kill and is work for a licensed electrician under local rules"
)
HEAT_CAUTION = (
    "a fixed heater without thermostat goes on heating when the room is warm; add a cut-out, and keep flammable "
    "layers away from it"
)


def check_habitat(habitat: Habitat) -> tuple[Finding, ...]:
    """Every fault and every caution of a design, in the order of the file.

    Names of materials and of the species card are looked up in the shipped data; sizes, places, air paths and the
    steering of heaters are judged from the design alone.
    """
    found = [
        *_names(habitat),
        *_data(habitat),
        *check_fit(habitat),
        *check_places(habitat),
        *_air(habitat),
        *_devices(habitat),
        *_roles(habitat),
    ]
    if habitat.path:
        found = [
            Finding(f.severity, f.message, f.line, f.field, f.found, f.allowed, f.nearest, habitat.path) for f in found
        ]
    return tuple(sorted(found, key=lambda f: f.line))


def _names(habitat: Habitat) -> Iterator[Finding]:
    groups: dict[str, list[tuple[str, int, str]]] = {
        "chamber": [(c.name, c.line, f"chamber.{c.name}") for c in habitat.chambers],
        "vent or passage": [
            *((v.name, v.line, f"vent.{v.name}") for v in habitat.vents),
            *((p.name, p.line, f"passage.{p.name}") for p in habitat.passages),
        ],
        "sensor": [(s.name, s.line, f"sensor.{s.name}") for s in habitat.sensors],
        "heater": [(h.name, h.line, f"heater.{h.name}") for h in habitat.heaters],
        "water in this chamber": [(f"{w.chamber}: {w.name}", w.line, f"water.{w.name}") for w in habitat.waters],
        "bell in this chamber": [(b.chamber, b.line, f"bell.{b.chamber}") for b in habitat.bells],
        "garden in this chamber": [(g.chamber, g.line, f"garden.{g.chamber}") for g in habitat.gardens],
        "grid under this chamber": [(g.above, g.line, f"grid.{g.above}") for g in habitat.grids],
        "grid over this chamber": [(g.below, g.line, f"grid.{g.above}") for g in habitat.grids],
    }
    for what, members in groups.items():
        seen: set[str] = set()
        for name, line, field in members:
            if name in seen:
                yield Finding("error", f"a second {what} of this name", line, field, repr(name), "a name used once")
            seen.add(name)


def _data(habitat: Habitat) -> Iterator[Finding]:
    from nestwright.data import load_materials, species_names

    known = list(load_materials())
    cards = list(species_names())
    if habitat.species not in cards:
        allowed, nearest = ", ".join(cards), nearest_name(habitat.species, cards)
        yield Finding(
            "error", "there is no card of this species", 0, "species", repr(habitat.species), allowed, nearest
        )

    def judge(layers: tuple[Layer, ...], line: int, field: str) -> Iterator[Finding]:
        for layer in layers:
            if layer.material not in known:
                nearest = nearest_name(layer.material, known)
                yield Finding("error", "unknown material", line, field, repr(layer.material), ", ".join(known), nearest)

    told: set[tuple[str, int]] = set()
    for chamber in habitat.chambers:
        for wall in chamber.walls:
            for finding in judge(wall.layers, wall.line or chamber.line, f"chamber.{chamber.name}.{wall.face}.layers"):
                key = (finding.found, finding.line)
                if key not in told:
                    told.add(key)
                    yield finding
    for bell in habitat.bells:
        yield from judge(bell.layers, bell.line, f"bell.{bell.chamber}.layers")
    for grid in habitat.grids:
        yield from judge((Layer(grid.material, 0.0),), grid.line, f"grid.{grid.above}.material")


def _air(habitat: Habitat) -> Iterator[Finding]:
    """Every chamber must have a way for air, in the end to the room."""
    joins: list[tuple[str, str]] = [(v.chamber, v.to) for v in habitat.vents if v.closed < 1]
    joins += [p.between for p in habitat.passages if p.closed < 1 and p.occupied < 1]
    joins += [(g.above, g.below) for g in habitat.grids]
    joins += [(c.name, "room") for c in habitat.chambers if c.lid_gap > 0]
    reached, last = {"room"}, 0
    while len(reached) != last:
        last = len(reached)
        for a, b in joins:
            if a in reached or b in reached:
                reached |= {a, b}
    for chamber in habitat.chambers:
        where = f"chamber.{chamber.name}"
        if chamber.name not in reached:
            if any(chamber.name in pair for pair in joins):
                message = "no air exchange: no way leads from this chamber to the room"
            else:
                message = "unconnected, without any air exchange: no open vent, passage, grid or lid gap belongs to it"
            yield Finding("error", message, chamber.line, where, allowed="an opening that leads to the room in the end")
        elif chamber.role == "dump" and (chamber.name, "room") not in joins:
            message = "no vent of its own to the room: what the waste gives off leaves through the other chambers"
            yield Finding("warning", message, chamber.line, where)


def _devices(habitat: Habitat) -> Iterator[Finding]:
    bells = {b.chamber for b in habitat.bells}
    wet = {w.chamber for w in habitat.waters}
    for sensor in habitat.sensors:
        if sensor.under_bell and sensor.chamber not in bells:
            where = f"sensor.{sensor.name}.under_bell"
            yield Finding("error", "there is no bell in its chamber", sensor.line, where, repr(sensor.chamber))
    for heater in habitat.heaters:
        chamber, where = heater.where
        field = f"heater.{heater.name}"
        if where == "water" and chamber not in wet:
            yield Finding("error", "there is no water in this chamber", heater.line, f"{field}.where", repr(chamber))
        if where in ("side", "top", "base"):
            touches = habitat.chamber(chamber).wall(where).touches  # type: ignore[arg-type]
            if touches not in ("room", "bench", "floor"):
                message = f"the {where} touches chamber {touches!r}, so no heater can lie on its outer side"
                yield Finding("error", message, heater.line, f"{field}.where", repr(where))
        if heater.control == "thermostat" and heater.band <= 0:
            message = "a thermostat without a band would switch without end"
            yield Finding("error", message, heater.line, f"{field}.band", f"{heater.band:g} K", "more than 0 K")
        if heater.control == "proportional" and heater.band <= 0:
            message = "a proportional heater needs a band over which its power falls"
            yield Finding("error", message, heater.line, f"{field}.band", f"{heater.band:g} K", "more than 0 K")
        if chamber in wet:
            yield Finding("warning", WATER_CAUTION, heater.line, f"{field}.where")
        if heater.control == "constant" and heater.power > 0:
            yield Finding("warning", HEAT_CAUTION, heater.line, f"{field}.control")


def _roles(habitat: Habitat) -> Iterator[Finding]:
    roles = {c.name: c.role for c in habitat.chambers}
    for garden in habitat.gardens:
        if roles[garden.chamber] not in ("garden", "nursery"):
            message = (
                f"a garden grows in a chamber whose role is {roles[garden.chamber]!r}: no garden limits hold there"
            )
            yield Finding("warning", message, garden.line, f"garden.{garden.chamber}.chamber")
    if "garden" not in roles.values():
        yield Finding("warning", "no chamber has the role 'garden': no garden limits hold", 0, "chamber")
    below = {g.below for g in habitat.grids}
    for chamber in habitat.chambers:
        if chamber.role == "sump" and chamber.name not in below:
            message = "a sump without a grid over it: nothing keeps small workers from its water"
            yield Finding("warning", message, chamber.line, f"chamber.{chamber.name}.role")
