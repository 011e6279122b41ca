"""Family: which colony gave garden or brood to which."""

from __future__ import annotations

from dataclasses import replace

from fastapi import APIRouter, Request
from starlette.responses import Response

from nestwright.web.colony_work import address_of
from nestwright.web.family_tree import Gift, tree_of
from nestwright.web.named import Named
from nestwright.web.render import page, shown_for, workshop_at
from nestwright.workshop.colonies import find_colony, kept_colonies
from nestwright.workshop.database import reading
from nestwright.workshop.visits import donations

router = APIRouter(prefix="/colonies")


@router.get("/{name}/family")
def family(request: Request, name: Named) -> Response:
    """From whom this colony had, and to whom it gave, through all generations."""
    with reading(workshop_at(request).engine) as connection:
        kept = find_colony(connection, name)
        gave: dict[str, list[tuple[str, str, str, str]]] = {}
        for one in kept_colonies(connection):
            gave[one.name] = donations(connection, one.id)
    lines = [
        (depth, other, day, f"{what} {amount}".strip(), came)
        for came in (True, False)
        for depth, other, day, what, amount in _walk(kept.name, gave, came, 0, {kept.name})
    ]
    came, went = ([line for line in lines if line[4] is which] for which in (True, False))
    gifts = {
        Gift(other, one, day, f"{what} {amount}".strip())
        if what.endswith("added")
        else Gift(one, other, day, f"{what} {amount}".strip().replace("taken", "added").replace("given", "added"))
        for one, given in gave.items()
        for day, what, amount, other in given
    }
    tree = tree_of(kept.name, sorted(gifts, key=lambda one: (one.day, one.giver, one.taker, one.what)))
    brief = replace(shown_for(request), brief=True)
    return page(
        request, "family.html", kept=kept, address=address_of(kept.name), came=came, went=went, tree=tree, brief=brief
    )


def _walk(
    name: str, gave: dict[str, list[tuple[str, str, str, str]]], came: bool, depth: int, seen: set[str]
) -> list[tuple[int, str, str, str, str]]:
    """Donations to a colony (`came`) or from it, and those behind them; each colony is followed once."""
    found: list[tuple[int, str, str, str, str]] = []
    for day, what, amount, other in gave.get(name, []):
        if what.endswith("added") != came:
            continue
        found.append((depth, other, day, what, amount))
        if other not in seen:
            seen.add(other)
            found += _walk(other, gave, came, depth + 1, seen)
    return found
