"""What a keeper might do instead of the plan, simulated in the same way."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from nestwright.colony.bells import Room, allowed, bell, chamber
from nestwright.colony.model import Colony
from nestwright.colony.outlook import MOST, Steps
from nestwright.colony.trials import Trial, Trials

__all__ = ["alternatives", "lawful", "rounded"]


def alternatives(
    many: Trials, best: Trial, by_count: dict[int, Steps], rooms: list[Room], sizes: Sequence[float] | None
) -> list[tuple[str, Trial]]:
    """What a keeper might do instead, each simulated over the same paths."""
    out: list[tuple[str, Steps]] = [("leave it as it is", ())]
    colony, bells = many.problem.colony, [r for r in rooms if r.kind == "bell"]
    out.append((f"change at {100 * many.weights.high:.0f} % fill, to twice the size", when_full(many, bells)))
    for more, what in ((-1, "one change fewer"), (1, "one change more")):
        count = len(best.steps) + more
        if count in by_count:
            many(by_count[count])
        same = [t for t in many.done.values() if len(t.steps) == count]
        if same:
            out.append((what, min(same, key=lambda t: t.cost).steps))
    if best.steps:
        day, room = best.steps[0]
        rest = best.steps[1:]
        sooner = shifted(best.steps, -7)
        out += [(earlier_text(best.steps, sooner), sooner), ("all a week later", shifted(best.steps, 7))]
        if room.kind == "bell":
            for factor, what in (
                (1.5, "the first bell half as large again"),
                (1 / 1.5, "the first bell a third smaller"),
            ):
                other = other_size(colony, bells, room, factor, sizes)
                if other is not None:
                    out.append((what, ((day, other), *rest)))
    whole = next((r for r in rooms if r.chambers == 1), None)
    if whole is not None and allowed(many.now, whole):
        out.append(("the whole chamber from tomorrow", ((max(1, int(np.ceil(whole.making))), whole),)))
    seen, kept = {best.steps}, []
    for what, steps in out:
        if steps not in seen and lawful(many.now, steps) and all(d < many.horizon for d, _ in steps):
            seen.add(steps)
            kept.append((what, many(steps)))
    return kept


def other_size(
    colony: Colony, bells: list[Room], room: Room, factor: float, sizes: Sequence[float] | None
) -> Room | None:
    """A bell about so many times as large: of the sizes to choose from, or any."""
    volume = rounded(room.usable * factor)
    if sizes is None:
        return bell(colony, volume)
    others = [b for b in bells if (b.usable > room.usable) == (factor > 1) and b.usable != room.usable]
    return min(others, key=lambda b: abs(np.log(b.usable / volume)), default=None)


def shifted(steps: Steps, by: int) -> Steps:
    """All changes some days later, as early as their parts can be there."""
    return tuple((max(1, int(np.ceil(room.making)), day + by), room) for day, room in steps)


def earlier_text(steps: Steps, sooner: Steps) -> str:
    """What the plan a week earlier is: less than a week where a part cannot be there so soon."""
    moved = [day - early for (day, _), (early, _) in zip(steps, sooner, strict=True)]
    if min(moved) == 7:
        return "all a week earlier"
    first = "not at all" if not moved[0] else "by 1 day" if moved[0] == 1 else f"by {moved[0]} days"
    return f"all a week earlier, or as soon as a part can be there: the first {first}"


def when_full(many: Trials, bells: list[Room]) -> Steps:
    """The rule of changing when the bell is full, to the bell nearest to twice its size, else to the chamber.

    The day is that on which the middle path reaches the upper end of the band, or the first on which the bell is there.
    """
    steps: Steps = ()
    now, day = many.now, 0
    for _ in range(MOST):
        table = many(steps).table
        fill = np.median(table["garden"], axis=0) / now.usable
        full = np.flatnonzero((fill >= many.weights.high) & (np.arange(len(fill)) > day))
        larger = [b for b in bells if b.usable > 1.2 * now.usable]
        following = min(larger, key=lambda b: abs(np.log(b.usable / now.usable / 2)), default=None)
        following = following or chamber(many.problem.colony, now.chambers + 1)
        if not len(full) or following is None:
            break
        day = max(int(full[0]), int(np.ceil(following.making)))
        if day >= many.horizon or not lawful(many.now, (*steps, (day, following))):
            break
        steps = (*steps, (day, following))
        now = following
    return steps


def lawful(now: Room, steps: Steps) -> bool:
    """Whether the changes come in order, can follow each other, and each part can be made in time."""
    rooms = [now, *(room for _, room in steps)]
    days = [0, *(day for day, _ in steps)]
    follow = all(allowed(a, b) for a, b in itertools.pairwise(rooms))
    return follow and all(a < b for a, b in itertools.pairwise(days)) and all(d >= r.making for d, r in steps)


def rounded(volume: float) -> float:
    """A volume to two figures: nobody makes a bell truer than that."""
    return float(f"{volume:.2g}")
