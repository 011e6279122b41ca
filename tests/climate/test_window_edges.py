"""Where a window ends: between the points of its map, the same however fine the map is; and its size in words."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from nestwright.climate.results import WindowMap
from nestwright.climate.window_edges import extent, held_at
from nestwright.habitat.model import Habitat
from nestwright.papers.care_content import _opens, _stand
from nestwright.papers.dossier import _window


def made(points: int, margin: Any) -> WindowMap:
    t, h = np.linspace(283.15, 308.15, points), np.linspace(0.15, 0.9, points)
    worst = margin(t[:, None] - 273.15, h[None, :])
    nothing = np.zeros(0)
    return WindowMap("n", "1", t, h, ("pot: CO2",), worst[None], "", nothing, nothing, None, {}, 1.0)


def roof(t: Any, h: Any) -> Any:
    """Held from 20.3 to 27.6 degC, and from 31 to 71 % RH."""
    return np.minimum(3.65 - np.abs(t - 23.95), 10 * (0.2 - np.abs(h - 0.51)))


@pytest.mark.parametrize("points", [31, 40, 60, 200])
def test_its_edges_do_not_hang_on_how_fine_its_map_is(points: int) -> None:
    # the margins are straight lines: linear interpolation finds where they are 0 within the change of the other side
    (cold, warm), (dry, damp) = extent(made(points, roof)) or ((0, 0), (0, 0))
    assert (cold - 273.15, warm - 273.15) == pytest.approx((20.3, 27.6), abs=0.02)
    assert (dry, damp) == pytest.approx((0.31, 0.71), abs=0.002)
    assert held_at(made(points, roof), 0.45) == pytest.approx((20.3 + 273.15, 27.6 + 273.15), abs=0.02)
    stand = _stand(made(points, roof), 0.45)
    assert (stand.low, stand.high) == pytest.approx((20.3, 27.6), abs=0.02)


def test_the_longest_run_counts_and_the_map_ends_where_it_ends() -> None:
    two = made(26, lambda t, h: np.where((t < 13.5) | (t > 25.5), 1.0, -1.0) + 0 * h)
    assert held_at(two, 0.3) == pytest.approx((25.5 + 273.15, 308.15))
    none = made(26, lambda t, h: -1.0 + 0 * t * h)
    assert held_at(none, 0.3) is None
    assert extent(none) is None


def test_a_sliver_is_told_as_one(capsys: pytest.CaptureFixture[str]) -> None:
    from nestwright.cli.window import print_window

    sliver = made(60, lambda t, h: np.where((np.abs(t - 20.17) < 0.1) & (np.abs(h - 0.5) < 0.02), 1e-4, -1.0))
    assert 0 < (sliver.worst >= 0).mean() < 0.01
    print_window(sliver)
    told = re.sub(r"\s+", " ", capsys.readouterr().out)
    assert "within about 20.2 °C and 48 to 52 % RH (under 1 % of the map)" in told
    words = {"Of this": "Of this"}

    class Air:
        room_temperature, room_relative_humidity = 294.0, 0.45

    held = _window(Air(), sliver, lambda text: words.get(text, text))["lines"][0]  # type: ignore[arg-type]
    assert "Of this field under 1 % hold." in held


def test_a_wet_wall_is_never_0_away_from_its_dew_point() -> None:
    from datetime import date
    from zoneinfo import ZoneInfo

    from nestwright.web.preferences import Preferences
    from nestwright.web.shown import Shown
    from nestwright.wording.proof import dew_text

    def show(language: str, temperature: str = "degC") -> Shown:
        choice = replace(Preferences(), language=language, temperature=temperature)
        return Shown(choice, ZoneInfo("UTC"), date(2026, 1, 1))

    told = {-0.31: "-0.3", -0.04: "just below 0", -1e-6: "just below 0", 2e-5: "just above 0", 0.06: "+0.1"}
    for kelvin, text in told.items():
        assert dew_text(kelvin) == text
        assert show("en").dew(kelvin).removesuffix(" K") == text
        assert ("-" in text or "below" in text) == (kelvin < 0)
    assert show("en", "degF").dew(-0.06) == "-0.1 °F"
    assert show("de").dew(-1e-6) == "knapp unter 0"
    assert show("de").dew(-0.06) == "-0,1 K"


def test_a_vent_with_a_plug_can_be_opened() -> None:
    from pathlib import Path

    from nestwright.habitat.file import read_habitat

    file = Path(__file__).parents[2] / "examples" / "workshop" / "habitats" / "single-pot.toml"
    pot: Habitat = read_habitat(file)
    drilled = replace(pot, vents=tuple(replace(one, closed=0.0) for one in pot.vents))
    plugged = replace(pot, vents=tuple(replace(one, closed=0.5) for one in pot.vents))
    assert not _opens(drilled)
    assert _opens(plugged)
