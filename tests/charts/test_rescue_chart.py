"""The picture of a rescue: the verdict in its lines, and amounts in the unit of their size."""

import json
from dataclasses import replace

from nestwright.charts.rescue import rescue_chart
from nestwright.colony.results import Came, Rescue, RescueCase


def rescue(amounts, **more):
    three = (1.0, 2.0, 3.0)
    cases = tuple(RescueCase(g, 0.95, (0.8, 1.0), three, three, three, three) for g in amounts)
    return Rescue("Atta sexdens", True, 1e6, (1.0, 2.0, 3.0), 1, cases, amounts[0], (), **more)


def drawn(result):
    return json.dumps(rescue_chart(result).to_dict())


def test_none_needed_is_told_with_the_garden_there_is():
    band = (160.0, 274.0, 410.0)
    came = Came((280.0, 322.0, 361.0), (180.0, 204.0, 230.0), (band, band, band), (None, None, None))
    text = drawn(rescue((0.0, 50.0), verdict="none needed", recommended=0.0, came=came))
    assert "None needed: it has about 200 mL (180 to 230)." in text
    assert "320 (280 to 360) workers; brood by the model: 270 (160 to 410) eggs" in text
    assert "enough without any" in text
    assert "Least that does as well" not in text


def test_the_least_amount_or_that_none_differs_is_told():
    least = drawn(replace(rescue((5e4, 5e5, 1e6), recommended=5e5), enough=None))
    assert "Least that does as well as any: 500 L (95 %)." in least
    assert "500 L does as well as any" in least
    reached = drawn(replace(rescue((5e4, 5e5, 1e6), recommended=5e5), enough=5e5))
    assert "Least that reaches nine chances in ten: 500 L (95 %)." in reached
    assert "500 L is enough" in reached
    assert "50 L is enough" not in drawn(replace(rescue((5e4, 5e5), recommended=5e5), enough=5e4))
    assert "No difference between the amounts." in drawn(rescue((5e4, 1e6), verdict="no difference", recommended=5e4))


def test_amounts_along_the_axis_have_the_unit_of_the_largest():
    for most, unit, per in ((500.0, "mL", 1), (5e4, "L", 1000), (1e6, "m3", 1_000_000)):
        text = drawn(rescue((5.0, most), recommended=5.0))
        assert f'"donor garden, {unit}"' in text
        assert f"format(datum.value / {per}, " in text


def test_a_day_is_no_days():
    text = drawn(rescue((5.0,), recommended=5.0))
    assert "; 1 day." in text
    assert "1,000,000 workers" in text
