"""Fit and forecast: bands that hold, records that are odd, dates, and what an added observation does."""

import importlib.util
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from nestwright.colony.file import colony_from_dict
from nestwright.colony.fit import fit, fit_more, report
from nestwright.colony.forecast import Scenario, forecast, span
from nestwright.colony.model import Event, Observation, Start

SPEC = importlib.util.spec_from_file_location("lives", Path(__file__).parent / "lives.py")
lives = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(lives)
QUICK = {"particles": 400, "moves": 4}


def ahead(colony, days=60, scenario=None):
    return forecast(fit(colony, **QUICK), days, scenario, paths=200)


def width(band, index=-1):
    return float(np.log((band.high[index] + 1) / (band.low[index] + 1)))


def test_bands_hold_what_followed():
    record, path = lives.lived(days=130, seed=2)
    cut = replace(record, days=80, observations=tuple(o for o in record.observations if o.day <= 80))
    made = ahead(cut, 50)
    held = [
        made.bands[name].low[k] <= path[80 + k, column] <= made.bands[name].high[k]
        for name, column in (("garden", 0), ("workers", 1))
        for k in (0, 10, 20, 30, 40, 50)
    ]
    assert sum(held) >= 9


def test_an_empty_record_gives_the_prior_and_a_wide_forecast():
    bare = replace(lives.plain(), at_start=Start())
    made = ahead(bare)
    assert width(made.bands["garden"]) > np.log(5)
    assert made.fit.points == ()
    assert made.fit.inside is None
    assert all(e.learnt < 0.15 for e in made.fit.estimates)


def test_three_points_say_little_and_forty_say_more():
    record, _ = lives.lived(days=100)
    garden = [o for o in record.observations if o.kind == "garden"]
    few = replace(record, observations=tuple(garden[::7][:3]))
    assert width(ahead(few).bands["workers"], 0) > 1.5 * width(ahead(record).bands["workers"], 0)


def test_a_gap_of_thirty_days_widens_what_is_known_inside_it():
    record, _ = lives.lived(days=100)
    gap = replace(record, observations=tuple(o for o in record.observations if not 40 <= o.day <= 72))
    (whole, _), (holed, _) = (report(fit(r, **QUICK)) for r in (record, gap))
    assert width(holed.history["garden"], 57) > 1.2 * width(whole.history["garden"], 57)


def document(visits, bells=()):
    return {
        "format": 1,
        "name": "invented",
        "species": lives.SPECIES,
        "start": "2031-01-01",
        "arrival": {"garden": "40 mL", "workers": "about 60"},
        "bell": list(bells),
        "visit": visits,
    }


def test_contradictory_counts_widen_the_band_and_are_told():
    """Two exact counts of one day that cannot both be true."""
    day = {"date": "2031-02-10"}
    one = colony_from_dict(document([day | {"workers": 120}]))
    both = colony_from_dict(document([day | {"workers": 60}, day | {"workers": 240}]))
    assert any("2031-02-10" in note for note in both.notes)
    sure, unsure = (ahead(c, 1).bands["workers"] for c in (one, both))
    assert width(unsure, 0) > 2 * width(sure, 0)


def test_a_bell_change_on_the_day_of_a_fill_counts_against_the_old_bell():
    bells = [
        {"from": "2031-01-01", "name": "small", "usable": "100 mL"},
        {"from": "2031-02-10", "name": "large", "usable": "400 mL"},
    ]
    colony = colony_from_dict(document([{"date": "2031-02-10", "fill": "80 %"}], bells))
    made = ahead(colony, 1)
    assert made.fit.points[0].value == pytest.approx(80.0)
    assert made.bands["fill"].high[-1] < 0.4


def test_a_garden_seen_lost_is_forecast_as_lost():
    record, _ = lives.lived(days=60)
    seen = tuple(o for o in record.observations if o.day < 55)
    lost = (*record.events, Event(55.0, "garden_share_lost", 1.0), Event(55.0, "queen", 0.0))
    made = ahead(replace(record, observations=seen, events=lost), 60)
    assert made.bands["garden"].high[-1] < 1.0
    assert made.survival < 0.05


def test_an_added_observation_moves_the_fit_as_a_new_fit_would():
    record, path = lives.lived(days=80)
    before = fit(record, particles=1500, moves=6)
    added = Observation(80.0, "garden", 1.15 * path[80, 0], 0.1)
    more = replace(record, observations=(*record.observations, added))
    grown, anew = fit_more(before, more), fit(more, particles=1500, moves=6, seed=3)
    assert grown.sample.log_evidence == pytest.approx(anew.sample.log_evidence, abs=0.4)
    apart = (grown.sample.draws.mean(axis=0) - anew.sample.draws.mean(axis=0)) / anew.sample.draws.std(axis=0)
    assert np.abs(apart).max() < 0.2


def test_an_added_climate_record_is_fitted_anew():
    record, _ = lives.lived(days=40)
    before = fit(record, particles=200, moves=2)
    more = fit_more(before, replace(record, climate=lives.good_climate(40)))
    assert "harm_scale" in [f.name for f in more.problem.free]


def test_fits_repeat_bit_for_bit():
    record, _ = lives.lived(days=40)
    one, other = (fit(record, particles=200, moves=2) for _ in range(2))
    assert np.array_equal(one.sample.draws, other.sample.draws)


def test_few_leaves_hold_the_garden_back_and_are_told():
    record, _ = lives.lived(days=80)
    free, scant = ahead(record, 60), ahead(record, 60, Scenario(leaves=0.3))
    assert scant.bands["garden"].middle[-1] < 0.7 * free.bands["garden"].middle[-1]
    short = next(d for d in scant.dates if d.name == "leaves_short")
    assert short.probability > 0.9


def test_a_dry_time_to_come_costs_garden():
    record, _ = lives.lived(days=60, climate=lives.good_climate(60))
    same = ahead(record, 40)
    dry = ahead(record, 40, Scenario(climate=lives.good_climate(40, dry=(0, 0.15))))
    assert dry.bands["garden"].middle[-1] < 0.7 * same.bands["garden"].middle[-1]


def test_dates_are_quantiles_of_the_first_day():
    happened = np.zeros((10, 5), dtype=bool)
    for path in range(6):
        happened[path, path % 3 + 1 :] = True
    made = span("x", "", happened, 100.0)
    assert made.probability == pytest.approx(0.6)
    assert (made.early, made.middle, made.late) == (101.0, 103.0, None)


def test_the_next_part_is_begun_its_making_time_before():
    record, _ = lives.lived(days=80, room=260.0)
    made = ahead(replace(record, making_time=9.0), 90)
    full = next(d for d in made.dates if d.name == "bell_full")
    begin = next(d for d in made.make_by if d.name == "bell")
    assert full.middle is not None
    assert begin.middle == full.middle - 9.0


def test_a_year_and_a_million_workers():
    big = replace(lives.plain(30), species="Atta sexdens", at_start=Start((1e6, 0.1), (1e6, 0.1), (8e5, 0.3)))
    made = ahead(big, 365)
    assert np.isfinite(made.bands["workers"].high).all()
    assert made.bands["workers"].middle[0] > 5e5
