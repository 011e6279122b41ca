"""The assembly instruction: pictures of the parts in the order in which they are joined and put together; as PDF."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from nestwright.papers.marks import N_
from nestwright.papers.words import words_of
from nestwright.parts.order import Step, assembly_steps
from nestwright.press.setting import set_paper

if TYPE_CHECKING:
    from datetime import date

    from nestwright.parts.making import Made

__all__ = ["assembly_pdf", "assembly_sheet", "steps_of"]

WAYS = {
    "down": N_("Down from above."),
    "up": N_("Up from below."),
    "to +x": N_("From the left to the right."),
    "to -x": N_("From the right to the left."),
    "to +y": N_("From the front to the back."),
    "to -y": N_("From the back to the front."),
}
HELD = {
    "glued": N_("Glue it, and let it gas out for days, until nothing is smelt, before ants go in."),
    "pressed": N_("Press it in by hand; it must hold a pull by hand."),
    "slides": N_("It slides in and comes out again: no glue."),
    "stands": N_("It only stands there: no glue."),
    "hangs": N_("It hangs there: no glue."),
}
CAUTIONS = (
    N_("Try every step dry before anything is glued. Nothing needs force: what sticks is wrong, or not yet clean."),
    N_(
        "Edges of glass, meshes and sheets cut: gloves until they are ground. Glue and solvent: air the room, no flame."
    ),
    N_(
        "Heat and mains: plug nothing in before all is closed, dry and looked at; a residual current device, a fuse, "
        "and a cut-out against overheating. Electric work is for licensed practice under local rules."
    ),
    N_(
        "Before ants move in: water test for an hour, a dry run of the empty habitat, and every gap on the ants' side "
        "measured."
    ),
)
"""Common practice, no source."""
ORDER = N_(
    "Glued and pressed parts are joined first, each group from its lowest part outwards; then the groups go in, each "
    "the way it comes out again. The order was found on the computed bodies; it is a rule of our own, not tried by "
    "hand."
)


def steps_of(made: Made) -> tuple[Step, ...]:
    """The steps of a habitat whose parts were all made and checked together.

    Raises ValueError where they were not: there is no order without the way they come apart.
    """
    from nestwright.parts.exploded import boxes_of

    if made.taken is None:
        raise ValueError("the parts were not checked together")
    return assembly_steps(made.assembly, made.taken, boxes_of(made))


def assembly_sheet(made: Made, language: str = "en") -> dict[str, Any]:
    """The instruction as steps with pictures. Raises InputError for a language that is not there."""
    from nestwright.parts.cautions import making_cautions
    from nestwright.parts.exploded import step_svg

    _ = words_of(language).gettext
    parts = {part.name: part for part in made.assembly.parts}
    before: tuple[str, ...] = ()
    told = []
    for number, step in enumerate(steps_of(made), 1):
        title = {"join": _("Join"), "place": _("Put in"), "bought": _("Add what is bought")}[step.kind]
        names = [f"{name} ({_(parts[name].material)})" for name in step.parts]
        lines = [_(WAYS[step.way])] if step.way and before else []
        lines += [_(HELD[kind]) for kind in step.joints]
        picture = None
        if step.kind != "bought":
            alt = _("Step {n}: {parts}").format(n=number, parts=", ".join(step.parts))
            picture = {"svg": step_svg(made, step, before), "alt": alt}
        told.append({"title": f"{number}. {title}", "parts": names, "lines": lines, "picture": picture,
                     "numbered": step.kind == "join"})  # fmt: skip
        before += step.parts if step.kind == "place" else ()
    habitat = made.assembly.habitat
    revision = made.assembly.revision or _("not told")
    cautions = [_(one) for one in (*CAUTIONS, *making_cautions(made.assembly))]
    return {
        "lang": language,
        "title": _("Assembly of {habitat}").format(habitat=habitat),
        "footer": _("{habitat}, revision {revision}").format(habitat=habitat, revision=revision),
        "lead": _(ORDER),
        "sha256": _("Habitat file, SHA-256 {sum}").format(sum=made.assembly.sha256),
        "steps": told,
        "cautions": {"title": _("Take care"), "lines": cautions},
    }


def assembly_pdf(made: Made, made_on: date | None = None, language: str = "en") -> bytes:
    """The instruction as PDF; the same parts give the same bytes."""
    return set_paper("assembly", assembly_sheet(made, language), made_on)
