"""Other days and other ways of a parcel file."""

from datetime import date

import numpy as np
import pytest

from nestwright.document import load_document
from nestwright.parcel.boxes import box_run, learn_boxes
from nestwright.parcel.carry import carry_many, course_of
from nestwright.parcel.changes import changes_of, costs_of
from nestwright.parcel.delay import Sent, learn_delays
from nestwright.parcel.file import parcel_from
from nestwright.parcel.learning import Learned, LearnedValue, Logged
from nestwright.parcel.sending import (
    at_day,
    carried,
    promise_of,
    risk_by_day,
    risk_now,
    sending,
    spreads_of,
    ways,
)
from nestwright.wording.parcel_risk import WORDS, change_text

COLD = """
name = "Clover in January"
species = "Atta cephalotes"
dispatch = 2027-01-13T16:00:00
promised = 2027-01-15T12:00:00
packed_at = "22 degC"

[box]
width = "200 mm"
depth = "150 mm"
height = "150 mm"
layers = ["4 mm corrugated board", "30 mm EPS"]
seam_gap = "0.3 mm"

[filler]
material = "crumpled paper"
share = "70 %"

[cup]
volume = "250 mL"
holes = { count = 12, width = "1 mm" }
garden = "60 mL"
workers = 60
cotton = "8 g"

[[pack]]
kind = "heat"
place = "side"
iron = "30 g"
duration = "40 h"

[[leg]]
name = "hall"
hours = 34
outside = "8 degC, 60 %"
waits = true

[[leg]]
name = "delivery"
hours = 10
outside = "-2 degC, 75 %"
"""
PACK = COLD[COLD.index("[[pack]]") : COLD.index("[[leg]]")]
GEL = """
[[pack]]
kind = "cold"
place = "top"
gel = "300 g"
melts_at = "18 degC"
latent = 200

"""
WINTER, SUMMER = load_document(COLD, "cold.toml"), load_document(COLD.replace(PACK, GEL), "gel.toml")


def test_another_day_moves_dispatch_and_promise_and_nothing_else():
    one, moved = parcel_from(WINTER), at_day(WINTER, date(2027, 1, 14))
    assert one.dispatch.date() == date(2027, 1, 13)
    assert (moved.dispatch - one.dispatch).days == (moved.promised - one.promised).days == 1
    assert moved.dispatch.time() == one.dispatch.time()
    assert (moved.box, moved.cup, moved.packs) == (one.box, one.cup, one.packs)


def test_a_promise_on_a_saturday_waits_for_monday():
    """15 January 2027 is a Friday (ISO 8601)."""
    assert promise_of(parcel_from(WINTER)) == (date(2027, 1, 15), 0.0)
    assert promise_of(at_day(WINTER, date(2027, 1, 14))) == (date(2027, 1, 18), 48.0)


@pytest.mark.parametrize("document", [WINTER, SUMMER], ids=["winter", "summer"])
def test_every_change_is_one_and_has_its_words_and_its_cost(document):
    parcel = parcel_from(document)
    costs = costs_of({"pack": 7.0})
    found = changes_of(parcel, costs)
    assert found[0].parcel is parcel
    assert len({change_text(one) for one in found}) == len(found)
    for one in found[1:]:
        assert one.key in WORDS
        assert one.parcel != parcel
        assert one.parcel.cup.garden == parcel.cup.garden
    packs = {one.figures["number"]: one.cost for one in found if one.key == "packs"}
    n = parcel.packs[0].number
    assert packs[n + 1] == 7.0
    assert packs[n + 2] == 14.0
    assert not any(one.parcel.box.tight and any(p.kind == "heat" for p in one.parcel.packs) for one in found), (
        "a heat pack in a tight box"
    )


def test_what_may_differ_has_a_name_that_the_computation_takes():
    from nestwright.parcel.model import UNCERTAIN

    assert {one.name for one in spreads_of(parcel_from(WINTER))} == set(UNCERTAIN)


def test_every_parcel_gets_its_own_delay_and_values(monkeypatch):
    """Parcels are carried in pieces, in the order of their delays: each outcome is that of its own parcel."""
    one = sending(WINTER, learn_delays([]), parcels=100, seed=2)
    parcel, late = parcel_from(WINTER), one.draws.hours_late(date(2027, 1, 15))
    told = carried(parcel)(one.draws.values, late)
    values = one.draws.values | {"cup.position": np.clip(one.draws.values["cup.position"], 0.0, 1.0)}
    monkeypatch.setattr("nestwright.parcel.carry.PIECE", 7)
    whole = carry_many(parcel, values, late)
    assert told.garden == pytest.approx(whole.garden)
    assert told.colony == pytest.approx(whole.colony)
    assert np.array_equal(told.cause, whole.cause)
    assert len(set(late)) > 1


def test_later_is_worse_and_thursday_is_worse_than_monday_in_winter():
    one = sending(WINTER, learn_delays([Sent("north", k) for k in [0] * 20 + [1] * 4]), "north", parcels=600)
    told = risk_now(one)
    by = {r.days_late: r.garden.mean for r in told.by_late}
    assert by[1] > by[0] + 0.05
    monday, thursday = risk_by_day(one, [date(2027, 1, 11), date(2027, 1, 14)])
    assert thursday.garden.mean > monday.garden.mean + 0.05, "it waits over the weekend"
    assert told.causes[0][0] == "cold"


def test_what_is_learned_narrows_what_is_not_known():
    values = [LearnedValue("pack.power_factor", 0.7, 0.65, 0.75, 1.0, 0.8, 1.25, 0.3)]
    learned = Learned(4, 100, tuple(values), 3.0, 0.5, 1.0, ())
    before, after = (spreads_of(parcel_from(WINTER), x)[0] for x in (None, learned))
    assert (after.middle, before.middle) == (0.7, 1.0)
    assert after.spread == pytest.approx(0.3 * before.spread)


def test_a_weak_pack_is_learned_from_the_logs_of_its_parcels():
    """Five parcels with three packs each; the truth lies at the lower end of what is thought before."""
    text = COLD.replace('iron = "30 g"', 'iron = "30 g"\nnumber = 3')
    document, rng = load_document(text, "three.toml"), np.random.default_rng(1)
    parcel, truth = parcel_from(document), {"pack.power_factor": 0.75, "outside.offset": 1.0}
    runs = []
    for late in (0.0, 0.0, 24.0, 0.0, 48.0):
        way = course_of(parcel, delay_hours=late, values=truth)
        hours = np.arange(0, way.time[-1] / 3600, 0.5)
        log = Logged(hours, np.interp(3600 * hours, way.time, way.cup) + 0.3 * rng.standard_normal(hours.size))
        runs.append(box_run("P", document, parcel.dispatch, parcel.hours + late, log))
    told = learn_boxes(runs)
    by = {one.name: one for one in told.values}
    for name, true in truth.items():  # two intervals of 8 in 10: 99 in 100
        one = by[name]
        assert one.value + 2 * (one.low - one.value) < true < one.value + 2 * (one.high - one.value)
    assert by["pack.power_factor"].high < 1.0
    assert by["pack.power_factor"].width < 0.8
    assert told.off_after < 0.5 < told.off_before


def test_ways_are_weighed_on_the_same_parcels():
    one = sending(WINTER, learn_delays([]), parcels=1000)
    weighed, keyed = ways(one, {"pick_up": 5.0}, days=1)
    rows = {row.key: row for row in weighed.choices}
    assert {key for key in keyed if not keyed[key].parts} < set(rows) <= set(keyed)
    assert rows["as_it_is"].cost == rows["as_it_is"].saved == 0
    assert rows["pick_up_10"].cost == 5.0
    assert rows["pick_up_10"].saved > 0.2, "the last hours are the coldest"
    assert rows["no_pack"].saved < 0
    assert weighed.best in rows
    pairs = [keyed[key] for key in rows if keyed[key].parts]
    assert pairs
    for pair in pairs:
        first, second = pair.parts
        assert pair.cost == pytest.approx(first.cost + second.cost)
        assert rows[pair.name].expected < min(rows[first.name].expected, rows[second.name].expected)
    only = ways(one, {}, days=0, budget=0.0)[0]
    assert keyed[only.best].cost <= 0
