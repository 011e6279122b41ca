"""Sizing: the free values of a design that leave the largest worst margin in its rooms."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from nestwright.climate import size_points
from nestwright.climate.proof import prove_year
from nestwright.climate.room_air import Room
from nestwright.climate.size_free import Free, FreeBounds, parse_free, resolve
from nestwright.climate.size_points import RoomPoints, rectangle, representative
from nestwright.climate.size_results import Side, Sized, SizeResult, TradeOff, TradePoint, YearCheck
from nestwright.climate.size_search import polish, search
from nestwright.climate.size_trial import Trial, Trials
from nestwright.errors import InputError
from nestwright.habitat.file import Document, read_document, with_values
from nestwright.habitat.model import Habitat

__all__ = ["FreeBounds", "SizeResult", "parse_free", "size"]

MOST_FREE = 4
NOTICED = 0.02
"""A gain of less than this share of a tolerance is no gain: it is below what the proof resolves."""
TIED = 0.0005
"""Scaled margins closer than this count as equal."""
FRONT = 25
"""Most points of a trade-off."""


def size(
    file: str | Path | Document,
    free: Sequence[FreeBounds | str],
    rooms: Sequence[Room] = (),
    *,
    temperature: tuple[float, float] = (291.15, 299.15),
    relative_humidity: tuple[float, float] = (0.30, 0.65),
    year: bool = False,
    seed: int = 1,
    progress: Callable[[int, float], None] | None = None,
) -> SizeResult:
    """Find one to four free values with the largest worst scaled margin over limits and rooms.

    Parameters
    ----------
    free : values such as "vent.crown.count=4..40", or what `parse_free` read from them.
    rooms : rooms to hold in. Each counts with at most 26 of its hours, steadily (`size_points.representative`).
        None given: a rectangle of rooms between `temperature` (K) and `relative_humidity` (0 to 1).
    year : run the best choice over each room's whole record and report that beside it.
    progress : called with the number of choices tried and the best worst margin so far.

    An interrupt (Ctrl-C) during the search ends it with the best choice so far. The same seed gives the same result.

    Raises
    ------
    InputError
        For a faulty design, an unknown key, bounds reversed or in the wrong unit, none or more than four free values, a
        year without a room, or when no choice within the bounds is a valid design.
    """
    document = file if isinstance(file, Document) else read_document(file)
    wanted = [parse_free(f) if isinstance(f, str) else f for f in free]
    if not 1 <= len(wanted) <= MOST_FREE:
        raise InputError("too many or no free values", field="--free", found=str(len(wanted)), allowed="one to four")
    twice = [key for key, n in Counter(f.key for f in wanted).items() if n > 1]
    if twice:
        raise InputError("is free twice", field=twice[0])
    if year and not rooms:
        raise InputError("a year needs a room to run through", field="--year", allowed="--year together with --room")
    habitat = with_values(document, {})  # a file at fault is told before a size that it lacks
    values = [resolve(document.tables, f, document.path) for f in wanted]
    groups = [representative(room, _pressure(room)) for room in rooms] or [rectangle(temperature, relative_humidity)]
    trials = Trials(document, values, groups, progress)
    before = trials.solve((), {})
    trials.refusals.clear()
    if not trials.ends:
        raise InputError("the design has no limits to hold", file=document.path)
    stopped, trade = False, None
    start = _start(values)
    try:
        if start is not None:
            trials.at(start)
        search(values, trials, seed, start)
        trade = _conflict(values, trials)
    except KeyboardInterrupt:
        stopped = True
    best = trials.best
    if best is None:
        if stopped:
            raise KeyboardInterrupt
        raise InputError(
            "no choice within the bounds is a valid design" + (f": {trials.refusals[0]}" if trials.refusals else ""),
            file=document.path, field=values[0].key,
        )  # fmt: skip
    best = _choose(values, trials, best)
    if not stopped:
        try:
            best = _round(values, trials, best)
        except KeyboardInterrupt:
            stopped = True
    kept = None if start is None else _kept(trials, values, start, best)
    best = kept or best
    sides = _sides(trials, best, before, groups)
    made = with_values(document, dict(zip((f.key for f in values), best.texts, strict=True)))
    years = tuple(_year(made, room) for room in rooms) if year else ()
    return SizeResult(
        habitat=habitat.name,
        revision=habitat.revision,
        rooms=tuple(g.name for g in groups),
        room_points=size_points.count(groups),
        free=tuple(_sized(f, text) for f, text in zip(values, best.texts, strict=True)),
        worst_before=None if before is None else before.worst,
        worst_margin=best.worst,
        limits=sides,
        forbids=sides[0].name if best.worst < 0 else "",
        trade_off=trade,
        years=years,
        evaluations=len(trials.seen),
        refused=sum(t is None for t in trials.seen.values()),
        stopped=stopped,
        notes=_notes(groups, rooms, year, stopped) + _unmoved(trials, sides[0]) + _told(kept),
    )


def _pressure(room: Room) -> float | None:
    # the same rule as the proof's: a record that states no pressure leaves it to the habitat's altitude
    from nestwright.climate.proof import UNSTATED_PRESSURE

    return None if room.pressure == UNSTATED_PRESSURE else room.pressure


def _start(free: Sequence[Free]) -> list[float] | None:
    """The design as it stands, where it lies within the bounds."""
    start = [f.before_si for f in free]
    if any(v is None or not f.low <= v <= f.high for f, v in zip(free, start, strict=True)):
        return None
    return [float(v) for v in start if v is not None]


def _choose(free: Sequence[Free], trials: Trials, best: Trial) -> Trial:
    """Among choices as good as the best: the next worst limit decides, then the design as it stands."""
    start = tuple(f.before for f in free)

    def rank(t: Trial) -> tuple[list[float], bool, float]:
        return sorted(np.round(t.by_end, 3).tolist()), t.texts == start, t.worst

    close = [t for t in trials.seen.values() if t is not None and t.worst >= best.worst - TIED]
    return max(close, key=rank)


def _round(free: Sequence[Free], trials: Trials, best: Trial) -> Trial:
    """The choice in two digits where that loses nothing that counts: it is the easier to make."""
    shorter = [_si(f, f.text(_si(f, text), 2)) for f, text in zip(free, best.texts, strict=True)]
    found = trials.at(shorter)
    if found is None or found.worst <= best.worst - NOTICED or (found.worst >= 0) != (best.worst >= 0):
        return best
    return found


def _kept(trials: Trials, free: Sequence[Free], start: Sequence[float], best: Trial) -> Trial | None:
    """The design as it stands where no choice is noticeably better, so that no change is proposed for nothing."""
    stands = trials.seen.get(tuple(f.text(v) for f, v in zip(free, start, strict=True)))
    if stands is None or best.texts == stands.texts:
        return None
    turns = stands.worst < 0 <= best.worst
    return None if turns or best.worst - stands.worst >= NOTICED else stands


def _told(kept: Trial | None) -> tuple[str, ...]:
    if kept is None:
        return ()
    return (f"no choice gains {NOTICED} of a tolerance, the least that counts: the design stays as it is",)


def _sized(f: Free, text: str) -> Sized:
    low, high = f.text(f.low), f.text(f.high)
    return Sized(f.key, f.before, text, low, high, {low: "low", high: "high"}.get(text, ""))


def _sides(trials: Trials, best: Trial, before: Trial | None, groups: Sequence[RoomPoints]) -> tuple[Side, ...]:
    t = np.concatenate([g.temperature for g in groups])
    h = np.concatenate([g.relative_humidity for g in groups])
    alone = np.max([trial.by_end for trial in trials.seen.values() if trial is not None], axis=0)
    made = []
    for k, end in enumerate(trials.ends):
        i = int(best.margins[k].argmin())
        made.append(
            Side(
                name=end.name,
                limit=end.limit.name,
                quantity=end.limit.quantity,
                bound=end.bound,
                value=float(best.values[k, i]),
                scaled_margin=float(best.margins[k, i]),
                before=None if before is None else float(before.by_end[k]),
                best_alone=float(alone[k]),
                room_temperature=float(t[i]),
                room_relative_humidity=float(h[i]),
            )
        )
    return tuple(sorted(made, key=lambda s: s.scaled_margin))


def _conflict(free: Sequence[Free], trials: Trials) -> TradeOff | None:
    """The limit end that goes first at the best choice, and the one that goes first where it would be better off."""
    best = trials.best
    if best is None:
        return None
    tried = [t for t in trials.seen.values() if t is not None]
    a = int(best.by_end.argmin())
    reach = np.array([t.by_end for t in tried])
    better = reach[:, a] > best.worst + NOTICED
    rivals = Counter(reach[better].argmin(axis=1).tolist())
    rivals.pop(a, None)
    if not rivals:
        return None
    b = rivals.most_common(1)[0][0]
    if len(free) > 1:
        _walk_front(free, trials, a, b)
        tried = [t for t in trials.seen.values() if t is not None]
    # what beats the best choice in both ends loses by a third: it is no choice between these two
    best = trials.best or best
    tried = [t for t in tried if t is best or (t.by_end[[a, b]] < best.by_end[[a, b]]).any()]
    points: list[Trial] = []
    for trial in sorted(tried, key=lambda t: (-t.by_end[a], -t.by_end[b])):
        if not points or trial.by_end[b] > points[-1].by_end[b]:
            points.append(trial)
    if len(points) < 2 or min(np.ptp([p.by_end[k] for p in points]) for k in (a, b)) < NOTICED:
        return None
    keep = np.unique(np.linspace(0, len(points) - 1, FRONT - 1).round().astype(int))
    keep = np.union1d(keep, [int(np.argmax([p.worst for p in points]))])
    shown = [points[k] for k in keep.tolist()]
    return TradeOff(
        trials.ends[a].name,
        trials.ends[b].name,
        tuple(
            TradePoint(
                dict(zip((f.key for f in free), p.texts, strict=True)), float(p.by_end[a]), float(p.by_end[b]), p.worst
            )
            for p in shown
        ),
    )


def _walk_front(free: Sequence[Free], trials: Trials, a: int, b: int) -> None:
    """Fill the front between two ends: at each shift, polish the choice whose lesser margin is largest."""
    from nestwright.climate.size_trial import REFUSED

    tried = [(key, t) for key, t in trials.seen.items() if t is not None]
    reach = np.array([t.by_end[[a, b]] for _, t in tried])
    span = float(np.ptp(reach[:, 0] - reach[:, 1]))
    for shift in np.linspace(-0.4, 0.4, 7) * span:
        k = int(np.minimum(reach[:, 0] - shift, reach[:, 1]).argmax())
        shares = np.array([f.share(_si(f, text)) for f, text in zip(free, tried[k][0], strict=True)])

        def cost(x: np.ndarray, shift: float = float(shift)) -> float:
            found = trials.at([f.at(float(s)) for f, s in zip(free, x, strict=True)])
            return -REFUSED if found is None else -min(float(found.by_end[a]) - shift, float(found.by_end[b]))

        polish(free, cost, shares, 15 * len(free))


def _si(f: Free, text: str) -> float:
    from nestwright.units import parse_quantity

    return float(text) if f.whole else parse_quantity(text, "length" if f.kind == "layer" else f.kind)


def _year(habitat: Habitat, room: Room) -> YearCheck:
    proof = prove_year(habitat, room, uncertainty=False).mean
    first = proof.first_limit
    assert first is not None
    held = min(1.0 if limit.hours_held_share is None else limit.hours_held_share for limit in proof.limits)
    return YearCheck(room.name, proof.holds, first.scaled_margin, first.name, held)


def _notes(groups: Sequence[RoomPoints], rooms: Sequence[Room], year: bool, stopped: bool) -> tuple[str, ...]:
    notes = [
        f"steady states in every room air ({size_points.count(groups)}); margins in steps of each limit's tolerance",
        "the uncertainty of the inputs is not in these margins: prove the choice with nestwright climate",
    ]
    if rooms and not all(room.fixed for room in rooms):
        notes.append("the airs are the outermost and the middling hours of the record, each held for ever")
        if not year:
            notes.append("a run over the record may differ in short extremes: --year runs the choice through it")
    if stopped:
        notes.append("stopped before the search was done: this is the best so far")
    return tuple(notes)


def _unmoved(trials: Trials, first: Side) -> tuple[str, ...]:
    """Says so when the limit that goes first does not depend on what is free."""
    k = [end.name for end in trials.ends].index(first.name)
    reach = [t.by_end[k] for t in trials.seen.values() if t is not None]
    return (f"nothing that is free moves {first.name}",) if float(np.ptp(reach)) < NOTICED else ()
