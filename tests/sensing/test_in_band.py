"""Hours in a band: by hand, by brute force, and what must hold for any readings."""

import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy.stats import norm

from nestwright.errors import InputError
from nestwright.sensing.in_band import chance_inside, time_in_band, wet_hours

HOUR = 3600.0


def test_by_hand():
    """0 to 10 in ten hours, a step back at once to 5: above 8 for two hours and a triangle, below 2 for two."""
    time = np.array([0.0, 10.0, 11.0]) * HOUR
    found = time_in_band(time, [0.0, 10.0, 5.0], 2.0, 8.0, 10 * HOUR)
    assert (found.hours, found.known, found.unknown) == pytest.approx((11.0, 11.0, 0.0))
    assert found.below == pytest.approx(2.0)
    assert found.deficit == pytest.approx(2.0)
    assert found.above == pytest.approx(2.0 + 0.4)
    assert found.excess == pytest.approx(2.0 + 0.4)
    assert found.inside == pytest.approx(11.0 - 4.4)
    assert found.episode_count == 2
    above, below = found.episodes
    assert (above.side, above.start, above.end) == ("above", pytest.approx(8 * HOUR), pytest.approx(10.4 * HOUR))
    assert (above.depth, above.area) == (2.0, pytest.approx(2.4))
    assert not above.cut_start
    assert (below.side, below.start, below.cut_start) == ("below", 0.0, True)
    assert found.longest == above
    assert found.inside_range == (found.inside,) * 3


def test_one_segment_through_the_whole_band():
    found = time_in_band([0.0, HOUR], [-1.0, 3.0], 0.0, 2.0, HOUR)
    assert (found.below, found.inside, found.above) == pytest.approx((0.25, 0.5, 0.25))
    assert (found.deficit, found.excess) == pytest.approx((0.125, 0.125))


def test_sine_above_a_limit():
    """Above half its height a sine is a third of the time, and its area there is (sqrt 3 - pi/3) / (2 pi) a period."""
    time = np.linspace(0, 100 * HOUR, 20_001)
    found = time_in_band(time, np.sin(2 * np.pi * time / (10 * HOUR)), None, 0.5, HOUR)
    assert found.above == pytest.approx(100 / 3, rel=1e-4)
    assert found.excess == pytest.approx(100 * (math.sqrt(3) - math.pi / 3) / (2 * math.pi), rel=1e-3)
    assert found.episode_count == 10


def test_gap_is_unknown_and_cuts_the_spell():
    time = np.array([0.0, 1.0, 2.0, 8.0, 9.0]) * HOUR
    found = time_in_band(time, [5.0, 5.0, 5.0, 5.0, 0.0], None, 2.0, 2 * HOUR, start=-HOUR, end=12 * HOUR)
    assert found.known == pytest.approx(3.0)
    assert found.unknown == pytest.approx(10.0)
    assert found.longest_gap == pytest.approx(6.0)
    assert found.episode_count == 2
    first = min(found.episodes, key=lambda e: e.start)
    assert (first.start, first.end) == (0.0, 2 * HOUR)
    assert first.cut_start
    assert first.cut_end
    assert found.inside_bounds == pytest.approx((0.4, 10.4))


def test_two_spells_side_by_side_across_a_gap_keep_their_own_depth():
    time = np.array([0.0, 1.0, 9.0, 10.0]) * HOUR
    found = time_in_band(time, [3.0, 4.0, 9.0, 8.0], None, 2.0, HOUR)
    assert sorted(e.depth for e in found.episodes) == [2.0, 7.0]


def test_missing_readings_within_the_bridge_are_bridged():
    time = np.arange(5) * HOUR
    whole = time_in_band(time, [0.0, 1.0, 2.0, 3.0, 4.0], 1.5, None, 2 * HOUR)
    holed = time_in_band(time, [0.0, 1.0, np.nan, 3.0, 4.0], 1.5, None, 2 * HOUR)
    assert holed.inside == pytest.approx(whole.inside)
    assert time_in_band(time, [0.0, 1.0, np.nan, 3.0, 4.0], 1.5, None, HOUR).unknown == pytest.approx(2.0)


def test_stuck_at_saturation_is_wet():
    wet, spread = wet_hours([0.0, HOUR, 2 * HOUR], [1.0, 1.0, 0.9], 1.0, HOUR)
    assert wet == pytest.approx(1.0)
    assert spread == pytest.approx((1.0, 1.0, 1.0))
    assert wet_hours([0.0, HOUR], [0.99, 0.99], 0.98, HOUR, common=0.01)[1] == pytest.approx((0.0, 1.0, 1.0), abs=0.3)


def test_common_error_moves_the_ends_as_shifted_readings_do():
    rng = np.random.default_rng(1)
    time = np.arange(2000) * 300.0
    value = 0.95 + 0.02 * np.sin(time / 9000) + 0.002 * rng.standard_normal(2000)
    found = time_in_band(time, value, None, 0.96, 600, common=0.01)
    for end, share in ((found.above_range[0], 0.1), (found.above_range[2], 0.9)):
        by_hand = time_in_band(time, value + 0.01 * norm.ppf(share), None, 0.96, 600).above
        assert end == pytest.approx(by_hand, rel=1e-9)
    assert found.inside_range[0] == pytest.approx(found.known - found.above_range[2], rel=1e-9)


def test_ranges_against_drawn_errors():
    """Both errors drawn many times, the hours counted each time: 10, 50 and 90 % of them."""
    rng = np.random.default_rng(2)
    time = np.arange(400) * 600.0
    value = 24.0 + 1.5 * np.sin(time / 20000)
    common, own = 0.4, 0.15
    drawn = []
    # common errors evenly over their chances, so that few draws do
    for z in norm.ppf((np.arange(400) + 0.5) / 400):
        shifted = value + common * z + own * rng.standard_normal(400)
        drawn.append(time_in_band(time, shifted, 23.0, 25.0, 600))
    found = time_in_band(time, value, 23.0, 25.0, 600, common=common, own=own)
    for name in ("inside", "above", "below", "excess", "deficit"):
        by_hand = np.quantile([getattr(d, name) for d in drawn], (0.1, 0.5, 0.9))
        assert getattr(found, name + "_range") == pytest.approx(tuple(by_hand), abs=0.02 * found.known), name


def test_own_error_alone_averages_out():
    time = np.arange(5000) * 60.0
    value = np.full(5000, 1.0)
    found = time_in_band(time, value, None, 1.5, 60, own=0.5)
    share = norm.sf(1.0)
    assert found.above_range[1] == pytest.approx(share * found.known, rel=1e-3)
    spread = 1.2816 * math.sqrt(share * (1 - share) / 5000) * found.known
    assert found.above_range[2] - found.above_range[1] == pytest.approx(spread, rel=0.02)


@pytest.mark.parametrize("value", [0.93, 0.95, 0.9699])
def test_chance_inside(value):
    found = float(chance_inside(value, 0.01, 0.93, 0.97))
    assert found == pytest.approx(norm.cdf(0.97, value, 0.01) - norm.cdf(0.93, value, 0.01))
    assert float(chance_inside(value, 0.0, 0.93, 0.97)) == 1.0
    assert float(chance_inside(0.97, 0.0, None, 0.97)) == 1.0
    assert np.isnan(chance_inside(np.nan, 0.01, 0.93, None))


STEPS = hnp.arrays(float, st.integers(2, 40), elements=st.floats(1.0, 2000.0))


@st.composite
def series(draw):
    steps = draw(STEPS)
    values = draw(
        hnp.arrays(float, len(steps) + 1, elements=st.one_of(st.floats(-10, 10), st.sampled_from([-1.0, 0.0, 1.0])))
    )
    return np.concatenate([[0.0], np.cumsum(steps)]), values


ERRORS = st.sampled_from([(0.0, 0.0), (0.5, 0.0), (0.0, 0.5), (0.5, 0.5)])


@settings(max_examples=60, deadline=None)
@given(series(), st.floats(100.0, 3000.0), ERRORS)
def test_hours_add_up(readings, bridge, errors):
    time, value = readings
    common, own = errors
    found = time_in_band(time, value, -1.0, 1.0, bridge, common=common, own=own)
    assert found.known + found.unknown == pytest.approx(found.hours)
    assert found.inside + found.above + found.below == pytest.approx(found.known, abs=1e-9)
    assert found.known == pytest.approx(np.diff(time)[np.diff(time) <= bridge].sum() / HOUR, abs=1e-12)
    for name in ("inside", "above", "below"):
        low, middle, high = getattr(found, name + "_range")
        assert 0 <= low <= middle <= high <= found.known + 1e-12
    assert min(found.excess, found.deficit) >= 0
    json.dumps(found.to_dict(), allow_nan=False)


@settings(max_examples=60, deadline=None)
@given(series(), ERRORS)
def test_spells_add_up_to_the_hours_beyond(readings, errors):
    time, value = readings
    found = time_in_band(time, value, -1.0, 1.0, 1000.0, common=errors[0], own=errors[1], worst=100)
    for side, hours, area in (("above", found.above, found.excess), ("below", found.below, found.deficit)):
        mine = [e for e in found.episodes if e.side == side]
        assert sum(e.hours for e in mine) == pytest.approx(hours, abs=1e-9)
        assert sum(e.area for e in mine) == pytest.approx(area, abs=1e-9)
    assert found.episode_count == len(found.episodes)
    for e in found.episodes:
        assert e.area <= e.depth * e.hours + 1e-9


@settings(max_examples=60, deadline=None)
@given(series(), st.data(), ERRORS)
def test_a_gap_never_adds_hours_inside(readings, data, errors):
    """Readings taken away so that the hole is longer than the bridge: no hour becomes good or known."""
    time, value = readings
    bridge = float(np.diff(time).max())
    first = data.draw(st.integers(1, len(time) - 1))
    last = data.draw(st.integers(first, len(time) - 1))
    holed = value.copy()
    holed[first:last] = np.nan
    later = np.arange(len(time)) >= last
    time_after = np.where(later, time + bridge + 1.0, time)
    whole = time_in_band(time_after, value, -1.0, 1.0, 1e9, common=errors[0])
    found = time_in_band(time_after, holed, -1.0, 1.0, bridge, common=errors[0])
    assert found.inside <= whole.inside + 1e-9
    assert found.known <= whole.known + 1e-9
    assert found.above <= whole.above + 1e-9
    assert found.excess <= whole.excess + 1e-9


@settings(max_examples=40, deadline=None)
@given(series(), st.integers(2, 5))
def test_more_readings_on_the_same_lines_change_nothing(readings, times):
    time, value = readings
    at = np.linspace(0, len(time) - 1, times * (len(time) - 1) + 1)
    finer, index = np.interp(at, np.arange(len(time)), time), np.arange(len(time))
    coarse = time_in_band(time, value, -1.0, 1.0, 1e9, common=0.3)
    fine = time_in_band(finer, np.interp(at, index, value), -1.0, 1.0, 1e9, common=0.3)
    for name in ("inside", "above", "below", "excess", "deficit"):
        assert getattr(fine, name) == pytest.approx(getattr(coarse, name), abs=1e-8)
        # ends of a range are read off a quadrature: where readings lie on a limit it is met to some hundredths of a s
        ends = getattr(coarse, name + "_range")
        assert getattr(fine, name + "_range") == pytest.approx(ends, abs=2e-5, rel=1e-3)
    assert fine.episode_count >= coarse.episode_count


@settings(max_examples=30, deadline=None)
@given(series())
def test_a_wider_band_never_holds_fewer_hours(readings):
    time, value = readings
    hours = [time_in_band(time, value, -w, w, 1e9).inside for w in (0.5, 1.0, 2.0, 20.0)]
    assert np.all(np.diff(hours) >= -1e-9)
    assert hours[-1] == pytest.approx(time[-1] / HOUR)


@settings(max_examples=30, deadline=None)
@given(series(), st.floats(0.01, 3.0))
def test_expected_hours_by_fine_sums(readings, own):
    """The expected share above, by a thousand points a segment."""
    time, value = readings
    found = time_in_band(time, value, None, 1.0, 1e9, own=own)
    at = (np.arange(1000) + 0.5) / 1000
    path = value[:-1, None] + np.diff(value)[:, None] * at
    by_hand = float(np.sum(norm.sf((1.0 - path) / own).mean(axis=1) * np.diff(time))) / HOUR
    assert found.above_range[1] == pytest.approx(by_hand, abs=2e-3 * found.known)


def test_pieces_of_a_long_record_join_without_a_seam():
    n = 40_000
    time = np.arange(n) * 60.0
    value = np.sin(time / 5000) + 0.1 * np.random.default_rng(0).standard_normal(n)
    whole = time_in_band(time, value, -0.5, 0.5, 60, common=0.1, own=0.1)
    halves = [
        time_in_band(time[a:b], value[a:b], -0.5, 0.5, 60, common=0.1, own=0.1) for a, b in ((0, 15001), (15000, n))
    ]
    for name in ("known", "inside", "above", "excess"):
        assert getattr(whole, name) == pytest.approx(sum(getattr(h, name) for h in halves), rel=1e-9)
    assert whole.above_range[1] == pytest.approx(sum(h.above_range[1] for h in halves), rel=1e-3)


def test_no_readings():
    found = time_in_band([], [], 0.0, 1.0, 60, start=0.0, end=HOUR)
    assert (found.hours, found.known, found.unknown, found.inside) == (1.0, 0.0, 1.0, 0.0)
    assert found.longest_gap == 1.0
    one = time_in_band([0.0], [5.0], 0.0, 1.0, 60, start=0.0, end=HOUR, own=0.1)
    assert (one.known, one.inside, one.unknown) == (0.0, 0.0, 1.0)


@pytest.mark.parametrize(
    ("args", "extra", "message"),
    [
        (([0, 1], [1.0], 0, 1, 1), {}, "differ in number"),
        (([1, 0], [1.0, 1.0], 0, 1, 1), {}, "must rise"),
        (([0, 0], [1.0, 1.0], 0, 1, 1), {}, "must rise"),
        (([0, 1], [1.0, 1.0], None, None, 1), {}, "needs a low or a high"),
        (([0, 1], [1.0, 1.0], 2, 1, 1), {}, "above the high one"),
        (([0, 1], [1.0, 1.0], 0, 1, 0), {}, "above 0"),
        (([0, 1], [1.0, 1.0], 0, 1, 1), {"own": -1.0}, "not below 0"),
        (([0, 1], [1.0, 1.0], 0, 1, 1), {"common": [1.0, 2.0, 3.0]}, "one for each"),
        (([0, 1], [1.0, 1.0], 0, 1, 1), {"start": 0.5}, "hold all readings"),
        (([], [], 0, 1, 1), {}, "from when to when"),
    ],
)
def test_bad_input(args, extra, message):
    with pytest.raises(InputError, match=message):
        time_in_band(*args, **extra)
