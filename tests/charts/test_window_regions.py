"""The window's parts: each is labelled inside itself, and air without a steady state is no limit's fault."""

import importlib.util
import json
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from nestwright.charts.regions import label_spots
from nestwright.charts.render import to_json, to_svg
from nestwright.charts.window import window_chart

spec = importlib.util.spec_from_file_location("charts_made", Path(__file__).with_name("conftest.py"))
made = importlib.util.module_from_spec(spec)
spec.loader.exec_module(made)
SIZE = (560, 430)


def test_a_label_stands_inside_its_part():
    mask = np.zeros((113, 87), dtype=bool)
    mask[60:, :20] = True
    ((x, y, angle, text),) = label_spots(mask, SIZE, ("a long name", "a"))
    assert (angle, text) == (0, "a long name")
    # A step is 5 px: the part reaches from 300 px to the right edge and from the lower edge 95 px up.
    assert 300 + 35 < x < 560 - 35
    assert 430 - 95 + 8 < y < 430 - 8


def test_a_narrow_part_is_labelled_upright_or_by_the_short_text():
    mask = np.zeros((113, 87), dtype=bool)
    mask[50:56, :] = True
    assert label_spots(mask, SIZE, ("a long name", "a"))[0][2:] == (270, "a long name")
    mask[:, 20:] = False
    assert label_spots(mask, SIZE, ("a name longer than this part is high", "a"))[0][2:] == (0, "a")


def test_each_part_has_its_own_label_and_specks_have_none():
    mask = np.zeros((113, 87), dtype=bool)
    mask[:30], mask[80:], mask[50, 50] = True, True, True
    left, right = sorted(label_spots(mask, SIZE, ("name",)))
    assert left[0] < 145 < 400 < right[0]
    assert label_spots(~mask & mask, SIZE, ("name",)) == []


def strips(chart):
    found = []

    def walk(node):
        if isinstance(node, dict):
            found.extend(v for v in node.get("values", []) if isinstance(v, dict) and "h2" in v)
        for value in node.values() if isinstance(node, dict) else node if isinstance(node, list) else []:
            walk(value)

    walk(json.loads(to_json(chart)))
    return found


def test_strips_cover_the_failing_part_by_the_limit_that_fails_first(window_map):
    made_strips = strips(window_chart(window_map))
    t, h = window_map.temperature - 273.15, window_map.relative_humidity * 100
    seen = 0
    for i in range(1, len(t) - 1, 3):
        for j in range(1, len(h) - 1, 3):
            # What is drawn last lies on top.
            over = [s for s in made_strips if s["t"] <= t[i] <= s["t2"] and s["h"] <= h[j] <= s["h2"]]
            worst = window_map.worst[i, j]
            if worst < -0.3:
                margins = np.sort(window_map.scaled_margin[:, i, j])
                if margins[1] - margins[0] > 0.3:
                    assert over[-1]["limit"].endswith(window_map.limits[window_map.first[i, j]])
                    seen += 1
            elif worst > 0.3:
                assert not over
    assert seen > 20


def test_air_without_a_steady_state_is_told_apart(window_map):
    margins = window_map.scaled_margin.copy()
    margins[:, 2:8, 2:8] = -99.0
    chart = window_chart(replace(window_map, scaled_margin=margins, converged_share=0.9625))
    shown = " ".join("".join(e.itertext()) for e in ET.fromstring(to_svg(chart)).iter() if e.tag.endswith("}text"))
    assert "no steady state found" in shown
    assert "Steady air was found at 96.2 % of the points." in shown
    t, h = window_map.temperature[5] - 273.15, window_map.relative_humidity[5] * 100
    top = [s for s in strips(chart) if s["t"] <= t <= s["t2"] and s["h"] <= h <= s["h2"]][-1]
    assert top["limit"].endswith("no steady state found")


def test_a_window_that_holds_nowhere_names_its_nearest_limit(window_map):
    nowhere = replace(
        window_map, scaled_margin=window_map.scaled_margin - 9, ends={"everywhere": made.NAMES[2]}, share_inside=0.0
    )
    shown = " ".join(
        "".join(e.itertext()) for e in ET.fromstring(to_svg(window_chart(nowhere))).iter() if e.tag.endswith("}text")
    )
    assert f"nearest to holding: {made.NAMES[2]}" in shown


@pytest.mark.parametrize("share", [1.0, 0.9])
def test_only_one_limit(window_map, share):
    one = replace(window_map, limits=made.NAMES[:1], scaled_margin=window_map.scaled_margin[:1], converged_share=share)
    assert made.NAMES[0] in to_svg(window_chart(one))
