"""Sizing: against a brute-force scan by the proof itself; conflicts, whole numbers, seeds, refusals, faulty input."""

import copy
import dataclasses
from pathlib import Path

import numpy as np
import pytest

from nestwright.climate.limits import bound_limits
from nestwright.climate.proof import prove
from nestwright.climate.rooms import read_room
from nestwright.climate.size_points import rectangle, representative
from nestwright.climate.sizing import NOTICED, parse_free, size
from nestwright.data import load_species
from nestwright.errors import InputError
from nestwright.habitat.assemble import assemble
from nestwright.habitat.file import Document, read_document, with_values
from nestwright.units import parse_quantity

ROOT = Path(__file__).parents[2] / "examples" / "workshop"
SINGLE = Path(__file__).parents[1] / "habitat" / "designs" / "single-pot.toml"
STEADY = "21 degC, 45 %"


def with_limit(text, file=SINGLE):
    tables = copy.deepcopy(read_document(file).tables)
    tables["limits"] = {"garden": {"relative_humidity": text}}
    return Document(tables, {}, "invented.toml")


def proved(document, changes, room):
    """Worst scaled margin by the cold-started proof."""
    return prove(with_values(document, changes), room, uncertainty=False).first_limit.scaled_margin


def test_optimum_of_a_count_is_that_of_a_brute_force_scan():
    document, room = with_limit("88 % to 96 %"), read_room(STEADY)
    result = size(document, ["vent.crown.count=1..90"], [room])
    scan = {n: proved(document, {"vent.crown.count": n}, room) for n in range(1, 91)}
    assert result.worst_margin == pytest.approx(max(scan.values()), abs=2e-3)
    best = result.free[0].best
    assert best == str(int(best))
    assert scan[int(best)] == pytest.approx(result.worst_margin, abs=1e-3)
    assert result.holds
    assert not result.forbids
    assert result.worst_before == pytest.approx(scan[6], abs=1e-3)
    assert result.worst_before < 0 < result.worst_margin


def test_optimum_of_a_length_is_that_of_a_brute_force_scan():
    document, room = with_limit("88 % to 95 %"), read_room(STEADY)
    result = size(document, ["vent.crown.diameter=1 mm..12 mm"], [room])
    scan = [proved(document, {"vent.crown.diameter": f"{d:.6g} mm"}, room) for d in np.linspace(1, 12, 221)]
    assert result.worst_margin >= max(scan) - 2e-3
    assert proved(document, {"vent.crown.diameter": result.free[0].best}, room) == pytest.approx(
        result.worst_margin, abs=1e-3
    )
    # two digits, since more gain nothing that counts: no workshop makes them
    assert len(result.free[0].best.removesuffix(" mm").replace(".", "")) == 2


def test_several_rooms_count_with_the_worst():
    document = with_limit("86 % to 96 %")
    rooms = [read_room("19 degC, 60 %"), read_room("23 degC, 35 %")]
    result = size(document, ["vent.crown.count=20..60"], rooms)
    scan = [min(proved(document, {"vent.crown.count": n}, room) for room in rooms) for n in range(20, 61)]
    assert result.worst_margin == pytest.approx(max(scan), abs=2e-3)
    assert result.room_points == 2


def test_two_values_beat_a_grid_and_the_same_seed_gives_the_same_result():
    document, room = with_limit("88 % to 96 %"), read_room(STEADY)
    free = ["vent.crown.count=4..60", "bell.pot.rim_gap=0.5 mm..4 mm"]
    result = size(document, free, [room], seed=5)
    grid = max(
        proved(document, {"vent.crown.count": n, "bell.pot.rim_gap": f"{gap:.4g} mm"}, room)
        for n in range(4, 61, 8)
        for gap in np.linspace(0.5, 4, 8)
    )
    assert result.worst_margin >= grid - 2e-3
    assert result.free[0].best == str(int(result.free[0].best))
    assert 0.5e-3 <= parse_quantity(result.free[1].best, "length") <= 4e-3
    assert len(result.free[1].best.removesuffix(" mm").replace(".", "")) <= 3
    assert size(document, free, [room], seed=5).to_dict() == result.to_dict()


def test_conflict_of_two_limits_gives_the_limit_that_forbids_and_the_trade():
    # No vent makes the garden's air steadier than the rooms: too damp in some of them or too dry in others
    result = size(with_limit("92 % to 93 %"), ["vent.crown.count=1..60"])
    assert not result.holds
    assert result.forbids == result.limits[0].name
    trade = result.trade_off
    assert {trade.first, trade.second} == {"pot/bell: humidity, at least", "pot/bell: humidity, at most"}
    first, second = (np.array([getattr(p, k) for p in trade.points]) for k in ("first", "second"))
    assert len(trade.points) >= 5
    assert (np.diff(first) <= 0).all()
    assert (np.diff(second) > 0).all()
    assert max(p.worst for p in trade.points) == pytest.approx(result.worst_margin, abs=1e-3)
    assert result.to_dict()["trade_off"]["points"][0]["values"].keys() == {"vent.crown.count"}


def test_no_solution_names_the_limit_without_inventing_a_conflict():
    # a thicker lid on the heap does not cool the garden below its room
    document = with_limit("50 % to 100 %")
    document.tables["limits"]["garden"]["temperature"] = "5 degC to 12 degC"
    result = size(document, ["water.tile.free_surface=60 cm2..70 cm2"], [read_room(STEADY)])
    assert result.forbids == "pot/bell: temperature, at most"
    assert result.trade_off is None
    assert result.limits[0].best_alone < 0
    assert result.to_dict()["forbids"] == result.forbids


def test_a_bound_that_stops_the_search_is_told():
    result = size(with_limit("88 % to 96 %"), ["vent.crown.count=1..12"], [read_room(STEADY)])
    assert (result.free[0].best, result.free[0].at_bound) == ("12", "high")


def test_wide_counts_are_narrowed_to_the_best_whole_number():
    document, room = with_limit("88 % to 96 %"), read_room(STEADY)
    wide, narrow = (size(document, [f"vent.crown.count={b}"], [room]) for b in ("1..900", "40..99"))
    assert wide.worst_margin >= narrow.worst_margin - 2e-3
    assert wide.evaluations < 150


def test_choices_that_are_no_design_are_passed_over():
    # a bell of 70 mm in a pot of 100 mm: above some diameter it no longer fits
    result = size(read_document(SINGLE), ["bell.pot.diameter=60 mm..140 mm"], [read_room(STEADY)])
    assert result.refused > 0
    assert parse_quantity(result.free[0].best, "length") < 0.1


def test_nothing_but_impossible_choices_is_an_error():
    with pytest.raises(InputError, match="no choice within the bounds"):
        size(read_document(SINGLE), ["bell.pot.diameter=150 mm..160 mm"], [read_room(STEADY)])


def test_heater_power_and_set_point_hold_a_cold_room():
    bench = read_document(ROOT / "habitats" / "heated-bench.toml")
    result = size(bench, ["heater.mat.power=0.5..12 W"], [read_room("17 degC, 50 %")])
    assert result.free[0].low == "0.5 W"
    assert result.worst_margin >= result.worst_before - 1e-3


def test_year_of_the_best_choice_stands_beside_it():
    room = read_room(str(ROOT / "rooms" / "steady-cellar.toml"))
    k = room.time <= 20 * 86400.0
    short = dataclasses.replace(
        room, time=room.time[k], temperature=room.temperature[k], vapour_pressure=room.vapour_pressure[k]
    )
    result = size(read_document(SINGLE), ["vent.crown.count=1..20"], [short], year=True)
    (check,) = result.years
    assert check.room == short.name
    assert 0 <= check.hours_held_share <= 1
    assert check.holds == (check.worst_margin >= 0)


def test_interrupt_ends_with_the_best_so_far():
    def stop(tried, best):
        if tried >= 10:
            raise KeyboardInterrupt

    result = size(with_limit("88 % to 96 %"), ["vent.crown.count=1..90"], [read_room(STEADY)], progress=stop)
    assert result.stopped
    assert result.evaluations == 10
    assert any("stopped" in note for note in result.notes)


def test_an_interrupt_in_the_last_trial_loses_nothing():
    """The last trial is the best choice in rounder sizes, after the search itself."""
    tried = []

    def stop(count, best):
        tried.append(count)
        if count == last:
            raise KeyboardInterrupt

    def found():
        free = ["bell.pot.rim_gap=0.5 mm..4 mm"]
        return size(read_document(SINGLE), free, [read_room("21 degC, 45 %")], progress=stop)

    last = 0
    whole = found()
    last = whole.evaluations
    assert tried[-1] == last
    stopped = found()
    assert stopped.stopped
    assert not whole.stopped
    assert stopped.worst_margin == pytest.approx(whole.worst_margin, abs=NOTICED)


def test_representative_hours_hold_every_corner():
    rng = np.random.default_rng(3)
    room = read_room(str(ROOT / "rooms" / "heated-room.toml"))
    points = representative(room, None)
    assert len(points.temperature) <= 26
    assert points.temperature.min() == room.temperature.min()
    assert points.temperature.max() == room.temperature.max()
    assert points.vapour_pressure.min() == room.vapour_pressure.min()
    assert points.vapour_pressure.max() == room.vapour_pressure.max()
    # in any direction the record reaches at most 1/cos(pi/16) - 1 = 2 % of its own size further
    t, e = ((x - x.mean()) / x.std() for x in (room.temperature, room.vapour_pressure))
    pt = (points.temperature - room.temperature.mean()) / room.temperature.std()
    pe = (points.vapour_pressure - room.vapour_pressure.mean()) / room.vapour_pressure.std()
    size_of_it = float(np.hypot(t, e).max())
    for angle in rng.uniform(0, 2 * np.pi, 50):
        reach = (np.cos(angle) * t + np.sin(angle) * e).max() - (np.cos(angle) * pt + np.sin(angle) * pe).max()
        assert reach <= 0.2 * size_of_it
    fixed = representative(read_room(STEADY), None)
    assert len(fixed.temperature) == 1


def test_rectangle_has_its_corners():
    grid = rectangle((291.15, 299.15), (0.3, 0.65))
    assert len(grid.temperature) == 25
    assert grid.relative_humidity.min() == pytest.approx(0.3)
    assert grid.relative_humidity.max() == pytest.approx(0.65)


def test_every_end_of_a_band_is_reported():
    document = read_document(SINGLE)
    habitat = with_values(document, {})
    bound = bound_limits(assemble(habitat, load_species(habitat.species)))
    result = size(document, ["vent.crown.count=5..7"], [read_room(STEADY)])
    assert len(result.limits) == sum((b.low is not None) + (b.high is not None) for b in bound)
    margins = [side.scaled_margin for side in result.limits]
    assert margins == sorted(margins)
    assert result.worst_margin == margins[0]


@pytest.mark.parametrize(
    ("free", "says"),
    [
        (["vent.crwn.count=4..40"], "did you mean 'crown'"),
        (["vent.crown.cuont=4..40"], "did you mean 'count'"),
        (["vent.crown.count=40..4"], "not below"),
        (["vent.crown.count=4..4"], "not below"),
        (["vent.crown.count=4.5..9"], "whole number"),
        (["vent.crown.count=4 mm..9 mm"], "whole number"),
        (["vent.crown.count=0..9"], "beyond"),
        (["vent.crown.diameter=1 W..3 W"], "vent.crown.diameter"),
        (["vent.crown.diameter=1..3"], "vent.crown.diameter"),
        (["vent.crown.diameter=-1 mm..3 mm"], "vent.crown.diameter"),
        (["vent.crown.pattern=1 mm..3 mm"], "cannot be free"),
        (["vent.crown.count"], "cannot be read"),
        (["vent.crown.count=4"], "cannot be read"),
        (["=4..5"], "cannot be read"),
        (["vent.crown.count=4..5..6"], "cannot be read"),
        ([], "one to four"),
        ([f"vent.crown.count=4..{n}" for n in range(5, 10)], "one to four"),
        (["vent.crown.count=4..5", "vent.crown.count=4..6"], "twice"),
    ],
)
def test_faulty_free_values(free, says):
    with pytest.raises(InputError) as caught:
        size(read_document(SINGLE), free, [read_room(STEADY)])
    assert says in str(caught.value)


def test_what_is_wrong_with_the_file_is_told_first(tmp_path):
    empty = tmp_path / "empty.toml"
    empty.write_text("")
    with pytest.raises(InputError, match="is empty"):
        size(empty, ["vent.crown.count=4..5"])


def test_a_year_needs_a_room():
    with pytest.raises(InputError, match="needs a room"):
        size(read_document(SINGLE), [parse_free("vent.crown.count=4..5")], year=True)


def test_a_gain_too_small_to_count_changes_nothing():
    # the lone pot in a hot room fails by its warmth, which one hole more cools by hardly anything
    warm = read_room("31 degC, 60 %")
    result = size(read_document(SINGLE), ["vent.crown.count=5..7"], [warm])
    assert (result.free[0].best, result.free[0].before) == ("6", "6")
    assert result.worst_margin == pytest.approx(result.worst_before, abs=1e-6)
    assert 0 < result.limits[0].best_alone - result.worst_margin < 0.02
    assert any("stays as it is" in note for note in result.notes)
