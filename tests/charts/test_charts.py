"""Charts render, name every limit, show the result's numbers, and stay whole whatever a thing is called."""

import importlib.util
import json
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from nestwright.charts import render
from nestwright.charts.render import save, to_json, to_png, to_svg
from nestwright.charts.states import proof_chart, value_text
from nestwright.charts.theme import TINTS, clean, number
from nestwright.charts.tradeoff import tradeoff_chart
from nestwright.charts.window import window_chart
from nestwright.charts.year import year_chart
from nestwright.errors import InputError

spec = importlib.util.spec_from_file_location("charts_made", Path(__file__).with_name("conftest.py"))
made = importlib.util.module_from_spec(spec)
spec.loader.exec_module(made)
NAMES, HOSTILE = made.NAMES, made.HOSTILE


def texts(svg):
    root = ET.fromstring(svg)
    return [" ".join("".join(e.itertext()).split()) for e in root.iter() if e.tag.endswith("}text")]


def whole(svg):
    return " ".join(texts(svg))


def test_window_of_a_phone_is_as_wide_as_the_phone_and_says_the_same(window_map):
    drawn = to_svg(window_chart(window_map, 380))
    assert float(ET.fromstring(drawn).get("width")) <= 380
    said = "".join(whole(drawn).split())
    assert all("".join(name.split()) in said for name in NAMES)


def test_window_names_every_limit_and_every_end(window_map):
    shown = whole(to_svg(window_chart(window_map)))
    for name in NAMES:
        assert name in shown
    for side, limit in {"cold": NAMES[0], "warm": NAMES[3], "dry": NAMES[1], "damp": NAMES[4]}.items():
        word = {"cold": "too cold", "warm": "too warm", "dry": "too dry", "damp": "too damp"}[side]
        assert f"{word}: {limit}" in shown


@pytest.mark.parametrize(
    ("share", "text"), [(0.9216, "92.2 %"), (0.99999, "99.9 %"), (1.0, "All of"), (0.0, "None of"), (1e-6, "0.1 %")]
)
def test_window_share_is_never_rounded_to_all_or_none(window_map, share, text):
    assert text in whole(to_svg(window_chart(replace(window_map, share_inside=share))))


@pytest.mark.parametrize("level", [5.0, -50.0], ids=["all holds", "none holds"])
def test_window_without_an_edge(window_map, level):
    flat = replace(window_map, scaled_margin=window_map.scaled_margin * 0 + level, ends={}, share_inside=None)
    shown = whole(
        to_svg(window_chart(replace(flat, room="", room_temperature=np.zeros(0), room_relative_humidity=np.zeros(0))))
    )
    assert ("No room air on this map holds" in shown) == (level < 0)


def test_window_says_where_nothing_was_found(window_map):
    margins = window_map.scaled_margin.copy()
    margins[:, :5, :5] = np.nan
    shown = whole(to_svg(window_chart(replace(window_map, scaled_margin=margins))))
    assert "no steady state found" in shown


def test_tints_differ_in_grey_print():
    # Relative luminance after WCAG 2.2, "relative luminance"; about 0.04 apart is one visible step of light grey.
    def luminance(colour):
        parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    steps = np.diff(sorted(map(luminance, TINTS.values())))
    assert steps.min() > 0.02


def test_year_is_small_and_names_its_zone_and_water(year):
    svg = to_svg(year_chart(year))
    assert len(svg.encode()) < 200_000
    shown = texts(svg)
    assert {"pot/bell", "room", "tile"} <= set(shown)
    assert f"First to go: {NAMES[1]}." in whole(svg)


def test_year_line_has_the_days_values(year):
    rows = [d for d in _data(year_chart(year)) if "mid" in d and d["zone"] == "pot/bell" and 15 < d["mid"] < 35]
    assert max(r["high"] for r in rows) == pytest.approx(
        year.series["pot/bell"]["temperature"].max() - 273.15, rel=1e-3
    )
    assert len({r["t"] for r in rows}) == 365


def _data(chart):
    def walk(node):
        if isinstance(node, dict):
            if isinstance(node.get("values"), list):
                yield from (v for v in node["values"] if isinstance(v, dict))
            for value in node.values():
                yield from walk(value)
        elif isinstance(node, list):
            for value in node:
                yield from walk(value)

    return list(walk(json.loads(to_json(chart))))


def test_year_without_dates_counts_days(year):
    assert "days" in texts(to_svg(year_chart(replace(year, start=""))))


def test_states_show_each_limit_with_its_value(proof):
    shown = texts(to_svg(proof_chart(proof)))
    for name in NAMES:
        assert name in shown
    # 297.28 K is 24.13 degC; its interval is 0.8 K wide to each side, which leaves one decimal.
    assert "24.1 °C (18 to 28)" in shown
    assert "87.3 % (at least 90)" in shown or "87 % (at least 90)" in shown


def test_states_bars_stand_at_the_margins(proof):
    rows = {d["name"]: d for d in _data(proof_chart(proof)) if "value" in d and "name" in d}
    humidity = rows[NAMES[1]]
    # (0.85 - 0.90) / 0.02 and (0.91 - 0.90) / 0.02, the tolerance of humidity being 2 % RH.
    assert (humidity["low"], humidity["m"], humidity["high"]) == pytest.approx((-2.5, -1.35, 0.5))
    assert rows[NAMES[3]]["end"] == 1


def test_no_digits_that_the_interval_does_not_leave(proof):
    wide = replace(proof.limits[0], low_value=287.0, high_value=307.0)
    assert value_text(wide).startswith("24 °C")


def test_tradeoff_joins_what_nothing_beats():
    points = [
        {"g": 3, "m": 1, "name": "a"},
        {"g": 4, "m": 0.5, "name": "b"},
        {"g": 5, "m": 2, "name": "c"},
        {"g": None, "m": 1},
    ]
    shown = texts(to_svg(tradeoff_chart(points, "g", "m")))
    assert {"a", "c"} <= set(shown)
    assert "b" not in shown


@pytest.mark.parametrize("name", HOSTILE.values(), ids=HOSTILE)
def test_hostile_names_stay_text(name, proof, year, window_map, held_to_grammar):
    limits = tuple(replace(m, name=f"{name}: {k}") for k, m in enumerate(proof.limits))
    bad = replace(proof, habitat=name, revision=name, room=name, limits=limits)
    mean_series = {
        name: year.series["pot/bell"],
        "room": year.series["room"],
        "water": {name: year.series["water"]["tile"]},
    }
    names = tuple(m.name for m in limits)
    charts = [
        proof_chart(bad),
        year_chart(replace(year, mean=bad, series=mean_series)),
        window_chart(
            replace(
                window_map, habitat=name, revision=name, room=name, ends={"cold": name}, limits=names
            )
        ),
        tradeoff_chart([{"g": 1, "m": 2, "name": name}], "g", "m"),
    ]  # fmt: skip
    for chart in charts:
        svg = render.to_svg(chart)
        root = ET.fromstring(svg)
        assert not [e for e in root.iter() if e.tag.endswith("script")]
        assert max(len(t) for t in texts(svg)) < 300  # a subtitle's lines count as one text
        assert not [c for c in svg if ord(c) < 32 and c not in "\n\r\t"]


def test_clean_keeps_a_plain_name():
    assert clean("Heated bench – 2nd, 21 °C") == "Heated bench – 2nd, 21 °C"
    assert clean("x" * 100, 10) == "x" * 9 + "…"


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0996, "0.10"), (1.234, "1.2"), (123.4, "120"), (0.0, "0"), (None, "none"), (float("inf"), "none")],
)
def test_number_has_two_digits(value, text):
    assert number(value) == text


def test_save_by_ending(tmp_path, proof):
    chart = proof_chart(proof)
    assert save(chart, tmp_path / "a.png").read_bytes().startswith(b"\x89PNG")
    ET.parse(save(chart, tmp_path / "a.svg"))
    assert json.loads(save(chart, tmp_path / "a.json").read_text())["$schema"]
    with pytest.raises(InputError):
        save(chart, tmp_path / "a.gif")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.json", "a.png", "a.svg"]
    assert to_png("<svg xmlns='http://www.w3.org/2000/svg' width='4' height='4'/>").startswith(b"\x89PNG")
