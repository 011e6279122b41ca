"""The proof of the shipped examples: documented keys, sense of direction, balances, interval, error against CVODE."""

import sys
from pathlib import Path

import numpy as np
import pytest

from nestwright.climate.limits import BoundLimit, bound_limits
from nestwright.climate.proof import _result, prove, prove_year, simulate
from nestwright.climate.reading import zone_air
from nestwright.climate.room_air import Room
from nestwright.climate.room_window import window
from nestwright.data import load_species
from nestwright.habitat.assemble import assemble, uncertain_values
from nestwright.habitat.file import read_document, read_habitat, with_values
from nestwright.network.arrays import ACCOUNTS
from nestwright.network.steady import settle
from nestwright.physics import air

ROOT = Path(__file__).parents[2]
HABITATS = ROOT / "examples" / "workshop" / "habitats"
NAMES = ("single-pot", "three-pot", "glass-case", "heated-bench")
sys.path.insert(0, str(ROOT / "studies"))


def fixed(t: float = 21.0, rh: float = 0.45) -> Room:
    e = rh * float(air.saturation_pressure(t + 273.15))
    return Room("fixed", np.array([0.0, 86400.0]), np.full(2, t + 273.15), np.full(2, e))


def swinging(days: int, mean: float = 20.0) -> Room:
    t = np.arange(days * 24 + 1) * 3600.0
    warm = mean + 273.15 + 2.5 * np.sin(2 * np.pi * t / 86400) + 0.4 * np.sin(2 * np.pi * t / 20000)
    return Room("swing", t, warm, 1150 + 150 * np.sin(2 * np.pi * t / 300000), start="2025-01-06T00:00:00")


def habitat(name: str):
    return read_habitat(HABITATS / f"{name}.toml")


def test_no_interval_of_a_humidity_passes_saturation_and_the_verdict_counts_all_of_it():
    humid = BoundLimit("pot: humidity", "pot", "relative_humidity", 0.9, 1.0, 0.02, "invented", "")
    one = _result(humid, 0.97, (-0.04, 0.06, ()))
    assert (one.low_value, one.high_value) == pytest.approx((0.93, 1.0))
    assert one.moved == (-0.04, 0.06)
    assert one.held
    assert not one.sure
    assert _result(humid, 0.02, (-0.04, 0.01, ())).low_value == 0.0
    # a state a hair above saturation stays inside its own interval
    assert _result(humid, 1.004, (0.0, 0.02, ())).high_value == 1.004


@pytest.mark.parametrize("name", NAMES)
def test_proof_of_an_example(name):
    proof = prove(habitat(name), fixed())
    assert proof.limits
    for limit in proof.limits:
        assert limit.low_value <= limit.value <= limit.high_value
        assert limit.held == (limit.margin >= 0)
        assert limit.source
    for zone in proof.zones:
        assert 280 < zone.temperature < 305
        assert 0.2 < zone.relative_humidity <= 1.005
        assert 0 < zone.co2 < 0.1
        assert zone.o2 < 0.2096
    assert max(proof.balances.values()) < 1e-6
    d = proof.to_dict()
    for key in ("water_g_per_day", "refill_days", "heater_W", "balances", "limits", "chambers"):
        assert key in d
    for key in ("temperature_degC", "relative_humidity_pct", "co2_pct", "o2_pct", "dew_margin_K"):
        assert all(key in c for c in d["chambers"])


@pytest.mark.parametrize("name", NAMES)
def test_a_short_run_stays_with_cvode(name):
    """SUNDIALS CVODE at 1e-9 with its own events: within 0.05 K, 0.2 % RH, 0.02 % CO2 at every hour.

    An on/off thermostat swings by itself and keeps no phase, so with one the day's means are compared.
    """
    from cvode_run import cvode_run

    h = habitat(name)
    assembly = assemble(h, load_species(h.species))
    days = 6
    room = swinging(days)
    own, *_ = simulate(assembly, room)
    reference = cvode_run(assembly, room)
    loops = any(heater.control == "thermostat" for heater in h.heaters)
    for zone in assembly.network.zone_names:
        a, b = zone_air(assembly.network, own, zone), zone_air(assembly.network, reference, zone)
        for field, allowed in (("temperature", 0.05), ("relative_humidity", 0.002), ("co2", 0.0002)):
            gap = np.abs(getattr(a, field) - getattr(b, field))
            if loops:
                gap = np.abs((getattr(a, field) - getattr(b, field))[1:].reshape(days, 24).mean(axis=1))
            assert gap.max() < allowed, (zone, field)


def test_a_run_over_weeks():
    seen = []
    proof = prove_year(habitat("three-pot"), swinging(30), progress=seen.append)
    assert seen[-1] == 1.0
    assert seen == sorted(seen)
    assert max(proof.mean.balances.values()) < 1e-6
    for limit in proof.mean.limits:
        assert 0.0 <= limit.hours_held_share <= 1.0
        assert limit.held == (limit.hours_held_share == 1.0)
    assert len(proof.series["room"]["temperature"]) == len(proof.time)
    assert set(proof.series) >= {"room", "water", "dump"}
    d = proof.to_dict()
    assert d["hours"] == 720
    assert {"worst_weeks", "refills", "dry_hours"} <= set(d)


def test_bad_weeks_are_found():
    proof = prove_year(habitat("single-pot"), swinging(21, 12.0), uncertainty=False)
    assert not proof.mean.holds
    week = proof.worst_weeks[0]
    assert week.hours_outside > 100
    assert week.date == "2025-01-06" or week.date.startswith("2025-01")


@pytest.mark.parametrize("name", NAMES[:3])
def test_window_points_equal_single_proofs(name):
    h = habitat(name)
    w = window(h, points=8, temperature=(291.15, 299.15), relative_humidity=(0.3, 0.7))
    for i, j in ((0, 0), (3, 5), (7, 7)):
        proof = prove(h, fixed(float(w.temperature[i]) - 273.15, float(w.relative_humidity[j])), uncertainty=False)
        for k, limit in enumerate(proof.limits):
            # films that still creep decide how much water the garden gives to them; the air is the same
            allowed = 1.0 if limit.quantity in ("garden_water", "drip") else 0.06
            assert w.scaled_margin[k, i, j] == pytest.approx(limit.scaled_margin, abs=allowed), limit.name


def test_the_room_is_laid_over_the_window():
    w = window(habitat("single-pot"), swinging(10), points=20)
    assert 0.0 <= w.share_inside <= 1.0
    assert set(w.ends) in ({"cold", "warm", "dry", "damp"}, {"everywhere"})


def test_more_vent_dries_and_airs():
    document = read_document(ROOT / "tests/habitat/designs/single-pot.toml")
    proofs = [prove(with_values(document, {"vent.crown.count": n}), fixed(), uncertainty=False) for n in (1, 4, 16)]
    pot = [p.zone("pot") for p in proofs]
    assert pot[0].relative_humidity > pot[1].relative_humidity > pot[2].relative_humidity
    assert pot[0].co2 > pot[1].co2 > pot[2].co2
    assert pot[0].o2 < pot[1].o2 < pot[2].o2


def test_a_larger_garden_breathes_more():
    document = read_document(HABITATS / "single-pot.toml")
    small, large = (
        prove(with_values(document, {"garden.pot.volume": v}), fixed(), uncertainty=False) for v in ("30 mL", "60 mL")
    )
    assert large.zone("pot/bell").co2 > small.zone("pot/bell").co2
    assert large.zone("pot/bell").temperature > small.zone("pot/bell").temperature


def test_a_warmer_room_makes_a_warmer_garden():
    proofs = [prove(habitat("single-pot"), fixed(t), uncertainty=False) for t in (16.0, 20.0, 24.0)]
    warm = [p.zone("pot/bell").temperature for p in proofs]
    assert warm[0] < warm[1] < warm[2]


def test_every_judgement_value_can_be_moved():
    h = habitat("single-pot")
    card = load_species(h.species)
    base = assemble(h, card)
    for name, value in uncertain_values(h, card).items():
        other = assemble(h, card, override={name: value.high}, like=base.network)
        y = other.network.initial(294.15, 1100.0)
        assert settle(other.network.net, y, np.zeros(len(ACCOUNTS)), 10.0, 300) > 0, name


def test_own_limits_replace_the_card():
    h = habitat("heated-bench")
    limits = {b.name: b for b in bound_limits(assemble(h, load_species(h.species)))}
    assert limits["garden-b: O2"].low == pytest.approx(0.15)
    assert limits["garden-b: O2"].mark == "own"
    assert limits["dump: humidity"].mark in ("own", "derived")


def test_a_plain_room_stands_at_the_habitats_altitude():
    import dataclasses

    high = dataclasses.replace(habitat("single-pot"), altitude=2200.0)
    low = dataclasses.replace(high, altitude=0.0)
    a, b = (prove(h, fixed(), uncertainty=False) for h in (high, low))
    # diffusion goes as 1/p while the share of a given flow goes as 1/p too: CO2 stays, vapour leaves faster
    assert a.water_rate > 1.05 * b.water_rate
    assert a.zone("pot/bell").co2 == pytest.approx(b.zone("pot/bell").co2, rel=0.1)


def test_a_point_that_stands_alone_is_seen():
    from nestwright.climate.room_window import lonely

    slope = np.add.outer(np.linspace(-3, 3, 12), np.linspace(0, 2, 12))
    assert not lonely(slope).any()
    slope[5, 6] -= 3.0
    assert np.argwhere(lonely(slope)).tolist() == [[5, 6]]


@pytest.mark.parametrize("name", ["single-pot", "three-pot", "glass-case"])
def test_a_gardens_own_figures_are_the_kernels(name):
    """Loss and drip are read per garden; with one garden they equal the kernel's accounts, at rest and off it."""
    from nestwright.climate.proof import settled
    from nestwright.climate.reading import drip_on, garden_loss
    from nestwright.network.flows import rates

    h = habitat(name)
    assembly = assemble(h, load_species(h.species))
    network = assembly.network
    node = network.node(assembly.gardens[0][1])
    y, _ = settled(assembly, 294.15, 1100.0)
    for shift in (0.0, -1.5, 2.0):
        y[network.net.heat[node]] += shift
        y[network.net.water[node]] *= 0.97
        f = dict(zip(ACCOUNTS, rates(network, y), strict=False))
        loss = f["garden_evaporation"] - f["co2_made"] * network.net.gas[1]
        assert float(garden_loss(network, y, node)) == pytest.approx(loss, rel=1e-6, abs=1e-15)
        assert float(drip_on(network, y, node)) == pytest.approx(f["drip_on_garden"], rel=1e-9, abs=1e-18)


def test_the_package_gives_its_functions_by_name():
    import subprocess

    from nestwright import climate

    assert climate.prove is prove
    assert climate.window is window
    assert climate.prove_year is prove_year
    with pytest.raises(AttributeError, match="no attribute 'proove'"):
        climate.proove  # noqa: B018
    code = "import sys, nestwright.climate; sys.exit('numba' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
