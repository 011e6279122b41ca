"""The year's lines: one colour a zone in all panels, limits in the colour of their zone, fillings where they were."""

import importlib.util
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from nestwright.charts.render import to_json, to_svg
from nestwright.charts.year import year_chart

spec = importlib.util.spec_from_file_location("charts_made", Path(__file__).with_name("conftest.py"))
made = importlib.util.module_from_spec(spec)
spec.loader.exec_module(made)


def nodes(node):
    if isinstance(node, dict):
        yield node
    for child in node.values() if isinstance(node, dict) else node if isinstance(node, list) else []:
        yield from nodes(child)


def rows(chart):
    return [
        v for n in nodes(json.loads(to_json(chart))) for v in n.get("values", []) or [] if isinstance(v, dict)
    ]  # fmt: skip


@pytest.fixture
def two_zones(year):
    series = dict(year.series)
    series["dump"] = {k: v - 0.3 for k, v in series["pot/bell"].items()}
    limits = (
        *year.mean.limits,
        made.limit("dump: humidity", "relative_humidity", zone="dump", high=0.8, scaled_margin=-9.0),
        made.limit("dump: temperature", "temperature", zone="dump", low=285.15, high=301.15, scaled_margin=9.0),
    )
    return replace(year, series=series, mean=replace(year.mean, limits=limits))


def test_a_zone_has_one_colour_in_all_panels(two_zones):
    scales = [
        n["scale"]
        for n in nodes(json.loads(to_json(year_chart(two_zones))))
        if n.get("field") == "zone" and isinstance(n.get("scale"), dict) and "pot/bell" in n["scale"]["domain"]
    ]
    colours = {(name, colour) for s in scales for name, colour in zip(s["domain"], s["range"], strict=True)}
    assert len({tuple(s["domain"]) for s in scales}) > 1
    assert {name for name, _ in colours} == {"pot/bell", "dump", "room"}
    assert len(colours) == 3


def test_limits_have_the_colour_of_their_zone_or_are_dark_when_shared(two_zones):
    tints = {r["limit"]: r["tint"] for r in rows(year_chart(two_zones)) if "tint" in r}
    # 28 degC is the upper limit of both zones; 18 of the bell, 12 of the dump.
    assert tints[28.0] == "#22261f"
    assert len({tints[18.0], tints[12.0], tints[28.0]}) == 3
    assert tints[80.0] == tints[12.0]


def test_fillings_stand_at_their_times(year):
    days = year.time / 86400
    store = 0.06 - 0.001 * (days % 50)
    filled = replace(year, series=year.series | {"water": {"tile": store}})
    marks = [r for r in rows(year_chart(filled)) if "g" in r]
    assert [m["t"][:10] for m in marks[:2]] == ["2001-02-20", "2001-04-11"]
    assert len(marks) == 7
    assert {m["g"] for m in marks} == {60.0}
    assert "water filled in" in to_svg(year_chart(filled))


def test_dew_is_no_filling(year):
    slow = replace(year, series=year.series | {"water": {"tile": np.linspace(0.05, 0.1, len(year.time))}})
    assert not [r for r in rows(year_chart(slow)) if "g" in r]
    assert "water filled in" not in to_svg(year_chart(slow))
