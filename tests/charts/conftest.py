"""Results to draw: one computed example, and made-up ones with values that are easy to follow."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from nestwright.climate.results import LimitResult, Proof, Week, WindowMap, YearProof, ZoneState

EXAMPLES = Path(__file__).parents[2] / "examples" / "workshop" / "habitats"
NAMES = (
    "pot/bell: temperature",
    "pot/bell: humidity",
    "pot/bell: CO2",
    "pot/bell: O2",
    "pot/bell: drip on the garden",
    "pot/bell: garden's water",
)
QUANTITIES = ("temperature", "relative_humidity", "co2", "o2", "drip", "garden_water")
HOSTILE = {
    "markup": '</text><script>alert("x")</script>&lt;<b>\'',
    "long": "m" * 10_000,
    "control": "a\x00b\x1b[31mc\x08\x7f\u202ed\ud800e\nf\tg",
}


def limit(name, quantity, **values):
    given = {
        "zone": "pot/bell", "low": None, "high": None, "value": 0.0, "low_value": 0.0, "high_value": 0.0,
        "margin": 1.0, "scaled_margin": 1.0, "held": True, "sure": True, "rests_on": (), "source": "", "mark": "",
    }  # fmt: skip
    return LimitResult(name=name, quantity=quantity, **(given | values))


@pytest.fixture
def proof():
    limits = (
        limit(NAMES[0], "temperature", low=291.15, high=301.15, value=297.28, low_value=296.4, high_value=298.0,
              margin=3.87, scaled_margin=3.87),
        limit(NAMES[1], "relative_humidity", low=0.9, value=0.873, low_value=0.85, high_value=0.91, margin=-0.027,
              scaled_margin=-1.35, held=False, sure=False),
        limit(NAMES[2], "co2", high=0.03, value=0.0123, low_value=0.009, high_value=0.02, scaled_margin=3.54),
        limit(NAMES[3], "o2", low=0.12, value=0.2, low_value=0.19, high_value=0.205, scaled_margin=8.0),
        limit(NAMES[4], "drip", high=5.8e-9, value=0.0, scaled_margin=0.5),
        limit(NAMES[5], "garden_water", high=1.0, value=0.4, low_value=0.2, high_value=0.9, scaled_margin=3.0),
    )  # fmt: skip
    zones = (
        ZoneState("pot", "garden", 295.4, 0.873, 350.0, 0.007, 0.2, {}, {}),
        ZoneState("pot/bell", "garden", 295.6, 0.9512, 150.0, 0.0081, 0.2, {}, {}),
        ZoneState("sump", "sump", 295.1, 0.9934, 20.0, 0.0074, 0.2, {}, {}),
    )
    exchange = (
        {"from": "pot", "to": "room", "kind": "air", "value": 3.4567e-7, "label": "crown", "exchange": 0.0},
        {"from": "pot", "to": "room", "kind": "water", "value": 8.9129e-10, "label": "crown"},
    )
    return Proof(
        "Single pot", "3", "none", "Study", 295.15, 0.5, zones, limits, 1e-8, None, 0.0, 0.0, None, {}, (), exchange
    )


@pytest.fixture
def year(proof):
    time = np.arange(0, 366) * 86400.0
    wave = np.sin(time / time[-1] * 2 * np.pi)
    series = {
        "pot/bell": {
            "temperature": 295 + 4 * wave,
            "relative_humidity": 0.95 + 0.03 * wave,
            "co2": 0.01 + 0.005 * wave,
        },
        "room": {"temperature": 294 + 4 * wave, "relative_humidity": 0.5 + 0.2 * wave},
        "water": {"tile": 0.05 + 0.03 * wave},
    }
    weeks = (Week(86400.0 * 70, "2001-03-12", NAMES[1], 40.0, -0.02),)
    return YearProof(replace(proof), time, "2001-01-01T00:00", series, weeks, 3, 0.0, 1000, 1.0)


@pytest.fixture
def window_map():
    """Holds in a disc about 22 degC and 55 %; each of six sectors fails first by another limit."""
    t, h = np.linspace(283.15, 308.15, 31), np.linspace(0.15, 0.9, 31)
    x, y = np.meshgrid((t - 295.15) / 4, (h - 0.55) / 0.15, indexing="ij")
    angle = np.arctan2(y, x)
    sector = np.arange(6) * np.pi / 3 - np.pi
    margins = 3 - 3 * np.hypot(x, y) * (1.2 + np.cos(angle - sector[:, None, None])) / 2.2
    ends = {"cold": NAMES[0], "warm": NAMES[3], "dry": NAMES[1], "damp": NAMES[4]}
    room = np.full(100, 295.15), np.full(100, 0.55)
    return WindowMap("Single pot", "3", t, h, NAMES, margins, "Study", *room, 1.0, ends, 1.0)
