"""The colony's pictures: what they show is the result's, and odd records and names leave them whole."""

import importlib.util
import json
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import date
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from nestwright.charts.bells import plan_chart
from nestwright.charts.brood import brood_chart
from nestwright.charts.dated import Calendar, Ruler
from nestwright.charts.dates import dates_chart
from nestwright.charts.declared import alt
from nestwright.charts.evidence import evidence_chart, percent
from nestwright.charts.growth import growth_chart
from nestwright.charts.leaves import demand_chart
from nestwright.charts.lettering import count_words, fitted, flags, wide, wrapped
from nestwright.charts.render import to_json, to_svg
from nestwright.charts.rescue import rescue_chart
from nestwright.colony.results import Band, DateSpan

spec = importlib.util.spec_from_file_location("colony_results", Path(__file__).with_name("colony_results.py"))
made = importlib.util.module_from_spec(spec)
spec.loader.exec_module(made)

OF_FORECAST = {"growth": growth_chart, "brood": brood_chart, "dates": dates_chart, "demand": demand_chart}
HOSTILE = '<b>&"Nest</b>\n\x00' + "W" * 200


def once(draw):
    """A picture that is asked about more than once is drawn once."""
    kept = {}

    def drawn(chart):
        if id(chart) not in kept:
            kept[id(chart)] = chart, draw(chart)  # the chart too, lest another come to stand where it stood
        return kept[id(chart)][1]

    return drawn


svg_of, json_of = once(to_svg), once(to_json)


def nodes(node):
    if isinstance(node, dict):
        yield node
    for child in node.values() if isinstance(node, dict) else node if isinstance(node, list) else []:
        yield from nodes(child)


def rows(chart, *keys):
    """The rows of data that have all these keys."""
    drawn = json.loads(json_of(chart))
    return [
        v
        for n in nodes(drawn)
        for v in n.get("values", []) or []
        if isinstance(v, dict) and all(k in v for k in keys)
    ]  # fmt: skip


def texts(chart):
    root = ET.fromstring(svg_of(chart))
    return [" ".join("".join(e.itertext()).split()) for e in root.iter() if e.tag.endswith("}text")]


def told(chart):
    """The lines under the title, joined as they were before they were broken."""
    return " ".join(json.loads(json_of(chart))["title"]["subtitle"])


def size(chart):
    root = ET.fromstring(svg_of(chart))
    return float(root.get("width")), float(root.get("height"))


def all_charts(width):
    forecast = made.forecast()
    yield from ((name, chart(forecast, width)) for name, chart in OF_FORECAST.items())
    yield "evidence", evidence_chart(made.diagnosis(), width)
    yield "plan", plan_chart(made.plan(), width)
    yield "rescue", rescue_chart(made.rescue(), width)


@pytest.mark.parametrize("width", [360, 720])
def test_pictures_are_as_wide_as_asked_for_and_their_type_can_be_read(width):
    for name, chart in all_charts(width):
        if width == 360:
            chart.to_dict(validate=True)
        svg = svg_of(chart)
        assert 0.85 * width <= float(ET.fromstring(svg).get("width")) <= width + 4, name
        found = {float(part.split("px")[0]) for part in svg.split('font-size="')[1:]}
        assert found, name
        assert min(found) >= 13, name


def test_growth_has_record_forecast_points_and_steps():
    forecast = made.forecast()
    chart = growth_chart(forecast)
    bands = rows(chart, "t", "low", "mid", "high")
    garden = forecast.bands["garden"]
    assert any(
        r["t"].startswith("2032-05-03") and r["mid"] == pytest.approx(garden.middle[-1], rel=1e-3) for r in bands
    )
    first = [r for r in bands if r["t"].startswith("2031-10-06")]
    assert {r["mid"] for r in first} == {40.0, 60.0}
    assert all(r["low"] <= r["mid"] <= r["high"] for r in bands)
    points = {(r["t"], r["value"], r["open"]) for r in rows(chart, "value", "open")}
    of_record = [p for p in forecast.fit.points if p.kind in ("garden", "workers")]
    assert len(points) == len(of_record)
    assert sum(o for *_, o in points) == sum(p.how in ("guess", "fill") for p in of_record)
    shown = texts(chart)
    for label in ("small bell, 150 mL", "bell 2, 400 mL", "bell 3, 900 mL", "garden, mL", "workers", "record"):
        assert label in shown
    for _, event in forecast.events:
        assert event in shown
    assert "forecast from 3 Feb" in shown


def test_growth_tells_housing_too_large_to_draw():
    chart = growth_chart(made.forecast(housing=((0.0, "small bell", 150.0), (95.0, "hall", 4e6))))
    assert "Above the picture: hall (4000 L)." in told(chart)
    assert "hall, 4000 L" not in texts(chart)


def scales(chart, field):
    return [
        n["scale"].get("type", "linear")
        for n in nodes(json.loads(json_of(chart)))
        if n.get("field") == field and isinstance(n.get("scale"), dict)
    ]


def test_scale_goes_by_factors_only_beyond_one_in_twenty():
    assert set(scales(growth_chart(made.forecast(120, 90)), "mid")) == {"symlog"}
    assert set(scales(growth_chart(made.forecast(10, 20)), "mid")) == {"linear"}
    assert "Scales by factors" in told(growth_chart(made.forecast(120, 90)))
    assert "Scales by factors" not in told(growth_chart(made.forecast(10, 20)))
    even, factors = Ruler.over([10, 200], "", 100), Ruler.over([10, 201], "", 100)
    assert (even.factors, factors.factors) == (False, True)


def test_ticks_of_a_scale_by_factors_stand_apart_and_end_at_whole_animals():
    ruler = Ruler.over([0.001, 30, 4e5], "", 170, finest=1.0)
    ticks = ruler.y(alt, "v").to_dict()["axis"]["values"]
    assert ticks[0] == 0
    assert min(t for t in ticks if t > 0) >= 1
    assert min(ruler.place(a) - ruler.place(b) for a, b in pairwise(ticks)) >= 17
    assert ruler.place(ruler.high) == pytest.approx(0)
    assert ruler.place(ruler.low) == pytest.approx(170)


def test_litres_where_millilitres_have_too_many_digits():
    forecast = made.forecast()
    large = {
        k: replace(b, low=b.low * 1e3, middle=b.middle * 1e3, high=b.high * 1e3) for k, b in forecast.bands.items()
    }
    assert "garden, L" in texts(growth_chart(replace(forecast, bands=large)))


def spans(placed):
    return [(f.lane, *f.span) for f in placed]


@pytest.mark.parametrize("width", [250, 600])
@pytest.mark.parametrize("seed", range(6))
def test_labels_over_the_dates_never_meet(width, seed):
    rng = np.random.default_rng(seed)
    marks = [(float(x), "an event of some length"[: rng.integers(3, 23)]) for x in rng.uniform(0, width, 9)]
    placed, missed = flags(marks, width)
    assert missed <= len(marks) // 2
    boxes = spans(placed)
    for k, (lane, low, high) in enumerate(boxes):
        assert low >= -30
        assert high <= width + 25
        for other, (lane_2, low_2, high_2) in enumerate(boxes):
            if other != k and lane == lane_2:
                assert high <= low_2 or high_2 <= low
            if other != k and lane < lane_2:
                assert not low < placed[other].x < high


def test_labels_at_the_same_day_are_one():
    placed, missed = flags([(50.0, "bell 2"), (50.0, "leaves"), (50.5, "bell 2")], 400)
    assert [f.text for f in placed] == ["bell 2; leaves"]
    assert missed == 0


def test_events_without_a_place_are_counted():
    many = made.forecast(events=tuple((float(d), f"leaves given {d}") for d in range(120)))
    chart = growth_chart(many, 360)
    said = {t for t in texts(chart) if t.startswith("leaves given") and "(" not in t}
    missed = int(told(chart).split("Ticks without words: ")[1].split()[0])
    assert said
    # At 360 px two days may share a place, and then a label.
    assert 60 <= missed + len(said) <= 120


def test_brood_has_a_panel_a_stage():
    chart = brood_chart(made.forecast())
    assert "first workers born here come out, 15 Feb" in texts(chart)
    assert [t for t in texts(chart) if t in ("eggs", "larvae", "pupae", "workers")] == [
        "eggs", "larvae", "pupae", "workers",
    ]  # fmt: skip
    ends = {r["mid"] for r in rows(chart, "mid") if r["t"].startswith("2032-05-03")}
    bands = made.forecast().bands
    expected = {float(f"{bands[k].middle[-1]:.4g}") for k in ("eggs", "larvae", "pupae", "workers")}
    assert ends == expected


def test_dates_have_bars_medians_and_words():
    chart = dates_chart(made.forecast())
    bars = {r["name"]: r for r in rows(chart, "t2")}
    # Day 138 and day 151 of a record that began on 6 October 2031.
    assert bars["the bell is full"]["t"][:10] == "2032-02-21"
    assert bars["the bell is full"]["t2"][:10] == "2032-03-05"
    assert not bars["the bell is full"]["open"]
    assert bars["the next chamber is needed"]["open"]
    assert "more leaves are needed than are given" not in bars
    assert {r["median"]: r["t"][:10] for r in rows(chart, "median")}["the bell is full"] == "2032-02-27"
    shown = texts(chart)
    assert "27 Feb (21 Feb to 5 Mar)" in shown
    assert "20 Apr (26 Mar or later); within 90 days in 6 of 10 cases" in shown
    assert "not within 90 days in 96 of 100 cases" in shown


def test_a_date_to_begin_that_is_past_is_overdue():
    late = (DateSpan("bell", "start making the next bell", 1.0, 100.0, 110.0, 115.0),)
    assert "24 Jan (14 Jan to 29 Jan); overdue" in texts(dates_chart(made.forecast(make_by=late)))
    assert not any("overdue" in t for t in texts(dates_chart(made.forecast())))


def test_a_date_known_to_the_day_is_told_once():
    sure = (DateSpan("bell_full", "the bell is full", 1.0, 121.2, 121.3, 121.8),)
    assert "4 Feb" in texts(dates_chart(made.forecast(dates=sure)))


def test_a_volume_in_the_name_is_not_told_twice():
    shown = texts(growth_chart(made.forecast(housing=((0.0, "bell 600 mL", 600.0),))))
    assert "bell 600 mL" in shown


def test_date_that_never_comes():
    never = (DateSpan("bell_full", "", 0.0, None, None, None),)
    shown = texts(dates_chart(made.forecast(dates=never, make_by=())))
    assert "not within 90 days" in shown
    assert "bell full" in shown


def test_demand_has_what_is_given_as_a_line():
    chart = demand_chart(made.forecast())
    assert {r["given"] for r in rows(chart, "given")} == {4.0}
    assert {"leaf need, fresh, g/day", "waste, wet, g/day", "given"} <= set(texts(chart))
    forecast = made.forecast()
    bands = {k: b for k, b in forecast.bands.items() if k != "leaf_given"}
    assert not rows(demand_chart(replace(forecast, bands=bands)), "given")


def test_leaves_given_in_another_measure_stand_by_themselves():
    forecast = made.forecast()
    dry = replace(forecast.bands["leaf_given"], unit="g dry/day")
    chart = demand_chart(replace(forecast, bands=forecast.bands | {"leaf_given": dry}))
    assert not rows(chart, "given")
    assert "given, g dry/day" in texts(chart)


def test_evidence_is_ranked_and_names_the_likeliest_first():
    diagnosis = made.diagnosis()
    chart = evidence_chart(diagnosis)
    shown = texts(chart)
    says = {c.says: c.name for c in diagnosis.causes}
    order = [says[t] for t in shown if t in says]
    assert order[0] == "too dry"
    faint = {c.name for c in diagnosis.causes if max(diagnosis.evidence[c.name].max(), c.weight) < 0.15}
    assert "harmful leaf" in faint
    assert set(order) == set(diagnosis.evidence) - faint
    named = ", ".join(c.says for c in diagnosis.causes if c.name in faint)
    assert f"Never above 15 %: {named}." in told(chart)
    assert "Likeliest: too dry." in told(chart)
    last = [r["weight"] for r in rows(chart, "weight") if r["t"].startswith("2031-12-05")]
    assert max(last) == pytest.approx(100 * diagnosis.evidence["too dry"][-1], rel=1e-3)
    unsure = evidence_chart(replace(diagnosis, verdict="cannot tell yet"))
    assert "Cannot tell yet: no cause stands out." in told(unsure)


@pytest.mark.parametrize(
    ("weight", "text"), [(1.0, "100 %"), (0.9999, "over 99 %"), (0.001, "under 1 %"), (0.0, "0 %"), (0.84, "84 %")]
)
def test_weight_is_never_rounded_to_all_or_none(weight, text):
    assert percent(weight) == text


def test_evidence_odd():
    diagnosis = made.diagnosis()
    empty = replace(diagnosis, causes=(), evidence={}, evidence_days=np.zeros(0))
    assert "No causes were compared." in texts(evidence_chart(empty))
    one = {k: v[:1] for k, v in diagnosis.evidence.items()}
    assert len(rows(evidence_chart(replace(diagnosis, evidence_days=np.array([5.0]), evidence=one)), "weight"))
    gaps = {k: np.where(np.arange(len(v)) < 3, np.nan, v) for k, v in diagnosis.evidence.items()}
    assert any(r["weight"] is None for r in rows(evidence_chart(replace(diagnosis, evidence=gaps)), "weight"))
    causes = (replace(diagnosis.causes[0], name=HOSTILE, says=HOSTILE), *diagnosis.causes[1:])
    chart = evidence_chart(replace(diagnosis, causes=causes, colony=HOSTILE, verdict=HOSTILE, next_look=HOSTILE), 360)
    assert size(chart)[0] <= 364


def test_plan_shades_the_cards_band_and_names_its_steps():
    chart = plan_chart(made.plan())
    [good] = rows(chart, "t2", "low", "high")
    assert (good["low"], good["high"]) == (25.0, 80.0)
    shown = texts(chart)
    assert "bell 4, 1800 mL" in shown
    assert "garden chamber, 3600 mL" in shown
    assert "The lid must come off, as it does not pass the opening: garden chamber." in told(chart)
    assert "Time inside the card's band of 25 to 80 %: 86 % (71 to 95 %)." in told(chart)
    fill = made.plan().fill
    assert rows(chart, "mid")[0]["mid"] == pytest.approx(100 * fill.middle[0], rel=1e-3)


def test_plan_without_steps_or_card():
    plan = made.plan()
    unknown = replace(plan.forecast, fit=replace(plan.forecast.fit, species="no such species"))
    chart = plan_chart(replace(plan, steps=(), forecast=unknown))
    assert "No change of housing is needed." in told(chart)
    assert not rows(chart, "t2", "low")


def test_rescue_has_chances_intervals_and_enough():
    rescue = made.rescue()
    chart = rescue_chart(rescue)
    chances = {r["garden"]: (r["low"], r["chance"], r["high"]) for r in rows(chart, "garden")}
    assert chances[20.0] == pytest.approx((62.0, 74.0, 80.0))
    assert len(chances) == len(rescue.cases)
    assert [r["level"] for r in rows(chart, "level")] == [90.0]
    assert "40 mL is enough" in texts(chart)
    assert "Workers of another colony are not accepted: give garden, not workers." in told(chart)
    scarce = rescue_chart(replace(rescue, enough=None))
    assert "None of the amounts tried gives nine chances in ten." in told(scarce)
    assert not any("mL is enough" in t for t in texts(scarce))


@pytest.mark.parametrize("many", [0, 1, 2])
def test_rescue_of_few_cases(many):
    rescue = made.rescue()
    chart = rescue_chart(replace(rescue, cases=rescue.cases[:many]), 360)
    assert {r["garden"] for r in rows(chart, "garden")} == {c.garden for c in rescue.cases[:many]}
    assert ("No amounts were tried." in texts(chart)) == (many == 0)


def test_rescue_odd():
    rescue = made.rescue()
    nan = replace(rescue.cases[2], pulls_through=np.nan, interval=(np.nan, 2.0), garden=1e6)
    odd = replace(
        rescue, species=HOSTILE, workers=1e6, brood=(0.0, np.nan, 1e7), cases=(*rescue.cases, nan), enough=1e6
    )
    assert "1,000,000 workers" in told(rescue_chart(odd))


def changed(forecast, change):
    fit = replace(forecast.fit, history={k: change(b) for k, b in forecast.fit.history.items()})
    return replace(forecast, bands={k: change(b) for k, b in forecast.bands.items()}, fit=fit)


def times(band, factor):
    with np.errstate(invalid="ignore"):
        return replace(band, low=band.low * factor, middle=band.middle * factor, high=band.high * factor)


def odd_forecasts():
    forecast = made.forecast()
    bare = replace(forecast, dates=(), make_by=(), housing=(), events=(), fit=replace(forecast.fit, points=()))
    named = replace(
        forecast,
        fit=replace(forecast.fit, colony=HOSTILE, species=HOSTILE),
        events=((1.0, HOSTILE), (2.0, HOSTILE + "2"), (119.0, HOSTILE), (np.nan, "never"), (900.0, "beyond")),
        housing=((0.0, HOSTILE, 200.0), (60.0, HOSTILE, 4e9), (70.0, "", 0.0), (np.nan, "x", np.nan)),
        dates=tuple(replace(d, what=HOSTILE) for d in forecast.dates),
    )
    half = np.r_[np.nan, np.ones(50)]
    return {
        "gaps": changed(forecast, lambda b: times(b, np.resize(half, len(b.day)))),
        "nothing known": changed(forecast, lambda b: times(b, np.nan)),
        "all zero": changed(forecast, lambda b: times(b, 0.0)),
        "a million": changed(forecast, lambda b: times(b, 1e6 / 600)),
        "dying out": changed(forecast, lambda b: times(b, np.linspace(1, 0, len(b.day)) ** 4)),
        "empty bands": changed(bare, lambda b: Band(b.name, b.unit, *[np.zeros(0)] * 4)),
        "no bands": replace(bare, bands={}, horizon=0, fit=replace(bare.fit, history={}, days=0)),
        "one day": made.forecast(0, 1),
        "one point": replace(forecast, fit=replace(forecast.fit, points=forecast.fit.points[:1])),
        "point without error": replace(
            forecast, fit=replace(forecast.fit, points=(replace(forecast.fit.points[0], low=np.nan, high=np.nan),))
        ),
        "ten years": made.forecast(20, 3650),
        "names": named,
    }


ODD = odd_forecasts()


@pytest.mark.parametrize("name", ODD)
def test_odd_forecasts_draw(name):
    forecast = ODD[name]
    for which, chart in OF_FORECAST.items():
        svg = svg_of(chart(forecast, 360))
        assert float(ET.fromstring(svg).get("width")) <= 372, which
        assert "NaN" not in svg, which
    plan = made.plan(forecast=forecast, fill=forecast.bands.get("fill", made.plan().fill))
    assert "NaN" not in svg_of(plan_chart(plan, 360))


def test_days_reach_to_the_end_of_the_calendar():
    calendar = Calendar.over(date(9999, 12, 1), 0.0, 1e5, 400)
    assert calendar.when(1e5).startswith("9999")
    assert calendar.x(alt).to_dict()["axis"]["values"]


@pytest.mark.parametrize("length", [1, 3, 10, 45, 120, 365, 1500, 20000])
@pytest.mark.parametrize("width", [240, 600])
def test_dates_on_the_axis_have_room(length, width):
    axis = Calendar.over(date(2031, 10, 6), 0.0, float(length), width).x(alt).to_dict()
    low, high = axis["scale"]["domain"]
    places = [(v - low) / (high - low) * width for v in axis["axis"]["values"]]
    assert len(places) >= 1
    assert min((b - a for a, b in pairwise(places)), default=99) >= 40
    assert all(0 <= p <= width for p in places)


def test_words_of_a_probability():
    told = {0.0: "in no case", 1.0: "in every case", 0.04: "in 4 of 100 cases", 0.6: "in 6 of 10 cases",
            0.9999: "in more than 99 of 100 cases", 1e-9: "in fewer than 1 of 100 cases"}  # fmt: skip
    assert {p: count_words(p) for p in told} == told


def test_text_is_broken_and_cut_to_its_room():
    assert wrapped("one two three four", 66) == ["one two", "three four"]
    assert all(wide(line) <= 100 for line in wrapped("w" * 300 + " short", 100))
    assert fitted("short", 300) == "short"
    assert fitted("a name that is too long", 70).endswith("…")
