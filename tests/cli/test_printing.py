"""Printed figures carry the digits they have, and every part of a proof is printed."""

import json
import math
import re
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from invented import limit, proof, sized, window, year

from nestwright.cli import output, proof_text
from nestwright.cli.size import print_size
from nestwright.cli.window import print_window
from nestwright.climate.size_free import parse_window
from nestwright.errors import InputError
from nestwright.wording.proof import limit_rows, verdict


@pytest.mark.parametrize(
    ("value", "decimals", "text"), [(-0.04, 1, "0.0"), (24.06, 1, "24.1"), (None, 1, "none"), (math.inf, 1, "none")]
)
def test_figure(value, decimals, text):
    assert output.figure(value, decimals) == text


@pytest.mark.parametrize(
    ("half", "decimals"),
    # Particle Data Group, Review of Particle Physics, Introduction 5.3: 0.827 +- 0.119 to 0.83 +- 0.12,
    # 0.827 +- 0.367 to 0.8 +- 0.4 (examples from memory); then whole numbers, and an exact value.
    [(0.119, 2), (0.367, 1), (1.2, 1), (12, 0), (120, 0), (0, 3), (1e-9, 3)],
)
def test_an_interval_takes_digits_away(half, decimals):
    assert output.decimals_within(-half, half, 3) == decimals


@pytest.mark.parametrize(
    ("value", "text"), [(1234.5, "1200"), (12.34, "12"), (0.01234, "0.012"), (0, "0"), (None, "none"), (9.96, "10")]
)
def test_significant(value, text):
    assert output.significant(value).removesuffix(".0") == text


@pytest.mark.parametrize(
    ("percent", "text"),
    [(100, "all"), (0, "none"), (None, ""), (99.97, "over 99.9 %"), (0.03, "under 0.1 %"), (96.44, "96.4 %")],
)
def test_a_share_never_rounds_to_all_or_none(percent, text):
    assert output.share_text(percent) == text


def test_json_is_rounded_and_has_no_nan():
    made = output.as_json({"a": np.float64(1 / 3), "b": [math.nan, 2, True, None], "c": np.int64(4)})
    assert made == {"a": 0.333333, "b": [None, 2, True, None], "c": 4}
    json.dumps(made, allow_nan=False)


def test_a_proof_prints_every_part(capsys):
    proof_text.print_proof(proof())
    text = capsys.readouterr().out
    for wanted in (
        "Pot [one]",
        "Does not hold.",
        "24.0",
        "97.1",
        "86 ",
        "1.23",
        "19.51",
        "-0.2 (side)",
        "Water used: 1.2 g a day",
        "Refill: every 12 days",
        "Drip onto the garden: no",
        "Heater: 1.6 W on average, 40 % of its power",
        "22 to 25 °C",
        "at least 95 %",
        "-1.0 K",
        "garden.respiration  ",
        "Bands that are a judgement",
        "2.1 g of water",
        "Heat and mains near water",
        "Escape and plant pests",
    ):
        assert wanted in text, wanted
    assert "1.2345" not in text


@pytest.mark.parametrize("width", [30, 40, 60, 80])
def test_no_figure_is_broken_on_a_narrow_terminal(monkeypatch, capsys, width):
    def figures():
        proof_text.print_proof(proof())
        text = capsys.readouterr().out
        return text, Counter(word for word in text.split() if re.fullmatch(r"[-+]?\d[\d.,e-]*", word))

    wide = figures()[1]
    monkeypatch.setenv("COLUMNS", str(width))
    text, narrow = figures()
    assert narrow == wide
    assert {*" ".join(limit_rows(proof(), year=False)[0]).split()} <= {*re.split(r"[\s:]+", text)}
    assert "…" not in text
    assert max(map(len, text.splitlines())) <= width


def test_water_that_lasts_for_decades_is_not_told_to_the_day(capsys):
    proof_text.print_proof(proof(refill_time=23_000 * 86400.0))
    assert "Refill: not within 5 years" in capsys.readouterr().out


def test_no_heater_no_heater_caution(capsys):
    proof_text.print_proof(proof(heater_duty=None))
    text = capsys.readouterr().out
    assert "Heat and mains" not in text
    assert "Heater: none" in text
    assert "Escape and plant pests" in text


def test_the_worst_limit_is_printed_first():
    _, rows = limit_rows(proof(), year=False)
    assert [row[0] for row in rows] == ["pot: temperature", "pot: humidity"]


@pytest.mark.parametrize(("margin", "held", "text"), [(0.0003, True, "at its edge"), (-0.0003, False, "just outside")])
def test_a_margin_below_its_last_digit_is_said_in_words(margin, held, text):
    _, rows = limit_rows(proof(limits=(limit(margin=margin, held=held),)), year=False)
    assert rows[0][4] == text


def test_water_gained_is_not_printed_as_negative_use(capsys):
    proof_text.print_proof(proof(water_rate=-1.5e-3 / 86400))
    assert "Water used: none; the water bodies gain 1.5 g a day" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("held", "sure", "word"),
    [
        (True, True, "holds"),
        (True, False, "holds, not sure"),
        (False, True, "fails"),
        (False, False, "fails, not sure"),
    ],
)
def test_verdict(held, sure, word):
    assert verdict(limit(held=held, sure=sure)) == word


def test_hours_held_are_never_rounded_up_to_all(capsys):
    proof_text.print_year(year())
    text = capsys.readouterr().out
    assert "99.9 %" in text
    assert "all" in text
    assert "100.0 %" not in text
    assert "2001-01-01" in text
    assert "-1.2 %" in text
    assert "48 hours" in text


def test_window_says_what_ends_it(capsys):
    print_window(window())
    text = capsys.readouterr().out
    assert "within 15.0 to 24.0 °C" in text
    assert "and 40 to 80 % RH" in text
    assert "K and 5.0 % RH" in text
    assert "too warm" in text
    assert "pot: temperature" in text


def test_an_empty_window_names_the_limit(capsys):
    empty = window(scaled_margin=window().scaled_margin - 100)
    print_window(empty)
    assert "No room air on this map holds every limit" in capsys.readouterr().out


def test_a_room_all_but_inside_is_not_called_all(capsys):
    print_window(window(room="attic", share_inside=0.99999))
    assert "attic: over 99.9 % of its hours inside" in capsys.readouterr().out


def test_sizes_are_told_with_their_bounds_and_their_trade(capsys):
    print_size(sized())
    text = capsys.readouterr().out
    for wanted in (
        "Holds with these sizes.",
        "0.3 tolerances inside",
        "not set",
        "at its high bound",
        "27.0 °C, 70 %",
        "pull the sizes to different sides",
        "over 99.9 %",
        "Note: a note",
        "Escape and plant pests",
    ):
        assert wanted in text, wanted
    # Of the seventeen points of the trade at most nine are printed, the outermost among them.
    shown = [line.split()[0] for line in text.split("The trade")[1].splitlines() if line[:1].isdigit()]
    assert shown[0] == "4"
    assert shown[-1] == "20"
    assert len(shown) <= 10


def test_what_forbids_every_size_is_named(capsys):
    print_size(sized(worst_margin=-0.5, forbids="pot: CO2, at most", trade_off=None, years=()))
    text = " ".join(capsys.readouterr().out.split())
    assert "No choice within the bounds holds. pot: CO2, at most forbids it" in text
    assert "0.5 tolerances outside" in text
    print_size(sized(worst_margin=-0.04, forbids="pot: CO2, at most", trade_off=None, years=()))
    assert "under 0.1 tolerances outside" in " ".join(capsys.readouterr().out.split())


def test_a_window_is_read_and_a_faulty_one_refused():
    temperature, humidity = parse_window("18..26.5 degC, 30..65 %")
    assert temperature == pytest.approx((291.15, 299.65))
    assert humidity == pytest.approx((0.30, 0.65))
    for text in ("26..18 degC, 30..65 %", "18..26, 30..65", "18..26 degC, 30..165 %", ""):
        with pytest.raises(InputError, match="--window"):
            parse_window(text)


def test_sizes_that_let_the_smallest_worker_out_say_so(capsys):
    from nestwright.cli.main import run

    design = Path(__file__).parents[1] / "habitat" / "designs" / "single-pot.toml"
    with pytest.raises(SystemExit):
        run(["size", str(design), "--free", "vent.crown.diameter=2 mm..3 mm", "--room", "21 degC, 45 %"])
    assert "an opening of vent 'crown' lets the smallest worker out" in " ".join(capsys.readouterr().out.split())
