"""What a record itself tells as lost."""

from datetime import date

import pytest

from nestwright.colony.diagnosis import error_text
from nestwright.colony.losses import garden_gone, known_losses
from nestwright.colony.model import Colony, Event, Observation, Start

GARDEN = "By the record the garden is gone since 2031-03-11: see `nestwright rescue FILE`"
QUEEN = "By the record the queen is lost since 2031-03-11"
WORKERS = "By the record there are no workers since 2031-03-11"


def colony(*told, **changed):
    values = {"days": 40, "at_start": Start((30.0, 0.2), (60.0, 0.2))} | changed
    seen = tuple(o for o in told if isinstance(o, Observation))
    done = tuple(e for e in told if isinstance(e, Event))
    return Colony("Sill", "Acromyrmex echinatior", date(2031, 3, 1), observations=seen, events=done, **values)


def saw(day, kind, value):
    return Observation(float(day), kind, value, 0.2)


def did(day, kind, value):
    return Event(float(day), kind, value)


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ([], ()),
        ([did(10, "garden_share_lost", 1.0)], (GARDEN,)),
        ([did(10, "garden_share_lost", 0.6)], ()),
        ([saw(10, "garden", 0.0)], (GARDEN,)),
        ([saw(10, "garden", 0.0), saw(20, "garden", 0.0)], (GARDEN,)),
        ([saw(10, "garden", 0.0), did(10, "garden_added", 5.0)], ()),
        ([did(10, "garden_share_lost", 1.0), saw(20, "garden", 12.0)], ()),
        # all that was read that day was taken; on another day nobody knows what there was
        ([saw(10, "garden", 40.0), did(10, "garden_taken", 40.0)], (GARDEN,)),
        ([saw(9, "garden", 40.0), did(10, "garden_taken", 40.0)], ()),
        ([did(10, "queen", 0.0)], (QUEEN,)),
        ([did(10, "queen", 0.0), did(30, "queen", 1.0)], ()),
        ([saw(10, "workers", 0.0)], (WORKERS,)),
        ([did(10, "workers_taken", 1e9)], (WORKERS,)),
        ([did(10, "workers_taken", 60.0)], ()),
        ([saw(10, "workers", 0.0), did(12, "pupae_added", 40.0)], ()),
        ([did(10, "garden_share_lost", 1.0), did(10, "queen", 0.0)], (GARDEN, QUEEN)),
        (
            [did(10, "garden_share_lost", 1.0), saw(20, "workers", 0.0)],
            ("By the record nothing lives any more: no garden since 2031-03-11, no workers since 2031-03-21",),
        ),
    ],
)
def test_what_is_lost(told, says):
    assert known_losses(colony(*told)) == says
    assert garden_gone(colony(*told)) == any("garden" in line for line in says)


def test_no_queen_from_the_start():
    assert known_losses(colony(queen=0.0)) == ("By the record there is no queen",)
    assert known_losses(colony(did(5, "queen", 1.0), queen=0.0)) == ()
    assert known_losses(colony(queen=None)) == ()


def test_a_queen_who_founds_has_lost_no_workers():
    founding = {"at_start": Start((0.5, 0.2), (0.0, 0.0))}
    assert known_losses(colony(saw(10, "workers", 0.0), **founding)) == ()
    assert known_losses(colony(saw(10, "workers", 5.0), saw(30, "workers", 0.0), **founding)) != ()


def test_no_garden_at_the_start():
    line = "By the record the garden is gone since 2031-03-01: see `nestwright rescue FILE`"
    assert known_losses(colony(at_start=Start((0.0, 0.0), (60.0, 0.2)))) == (line,)


def test_chance_in_the_fits_is_told_as_a_weight():
    """Printed as "weights are known to about 58 % of themselves", and 0 % where there was no record."""
    seen = colony(saw(10, "garden", 40.0))
    # odds of e**0.457 = 1.58 to 1: 1.58 / 2.58 = 61 %
    assert error_text(seen, 0.457) == "chance in the fits: a weight of 50 % might as well be 39 to 61 %"
    assert error_text(seen, 0.01) == "chance in the fits moves a weight by less than 1 %"
    assert error_text(colony(), 0.457) == "no observation to weigh: every weight is the chance beforehand"


def test_the_look_lies_after_the_record(monkeypatch):
    """A reading of the climate was named for the record's own last day, which had been written down already."""
    from types import SimpleNamespace

    import numpy as np

    from nestwright.colony import next_look

    alike = {k: np.ones((3, len(next_look.AHEAD))) for k in ("garden", "workers", "eggs", "larvae", "pupae")}
    monkeypatch.setattr(next_look, "predictions", lambda candidate: alike)
    monkeypatch.setattr(next_look, "_bits_climate", lambda kind, *rest: 0.9 if kind == "dry" else None)
    candidate = (None, SimpleNamespace(problem=SimpleNamespace(days=40)), 0.5)
    what, day, _ = next_look.next_look(candidate, candidate)
    assert what == "read the humidity beside the garden"
    assert day > 40
