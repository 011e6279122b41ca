"""Prices, bills and costs: hand sums, exact decimal identities, and properties that hold for any rates and prices."""

import importlib.util
import itertools
import re
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestwright.document import load_document
from nestwright.errors import InputError
from nestwright.parts.bill import bill_of
from nestwright.parts.costs import cost_of_habitat, sale_at
from nestwright.parts.prices import Bought, Need, Prices, Selling, Stock, read_prices
from nestwright.parts.rates import own_rates, shipped_rates

SPEC = importlib.util.spec_from_file_location("made", Path(__file__).with_name("made.py"))
made = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(made)
PLUG = Bought("silicone plug 12 mm", Decimal("0.45"))
RATES = shipped_rates()


@pytest.fixture(scope="session")
def prices():
    return replace(read_prices(made.PRICES), bought=(PLUG,))


@pytest.fixture(scope="session")
def costs(prices):
    return cost_of_habitat(made.assembly(), made.measured(), shipped_rates(), prices)


def amount(lines, part, task):
    found = [one for one in lines if (one.part, one.task) == (part, task)]
    assert len(found) == 1
    return found[0]


def test_bill_against_sums_by_hand():
    # each sum done on paper from the middle rates: see the numbers in data/making_rates.toml
    lines = bill_of(made.assembly(), made.measured(), shipped_rates())
    side = amount(lines, "side", "material")
    assert side.need == Need("stock", "m2", "", "acrylic", "sheet", 0.003)
    assert side.each == pytest.approx(4 * 0.1 * 0.06 / 0.7 / 0.96)
    # 0.32 m of cut in 3 mm: 960 mm2 at 30 mm2/s = 32 s, 20 s start and one outline to pierce: 52.5 s a piece
    assert amount(lines, "side", "machine").each == pytest.approx(4 * 52.5 / 0.96 / 3600)
    assert amount(lines, "side", "energy").each == pytest.approx(4 * 52.5 / 0.96 * 900 / 3.6e6)
    # ring of 11875 mm3: x (0.95 + 0.08) / 5 mm3/s + 100 layers x 2 s + 360 s
    seconds = np.pi / 4 * (30**2 - 12**2) * 20 * 1.03 / 5 + 200 + 360
    assert amount(lines, "collar", "machine").each == pytest.approx(2 * seconds / 0.94 / 3600)
    # a mould: one for every batch and a fortieth for every habitat
    mould = amount(lines, "block mould", "material")
    assert mould.set_up == pytest.approx(40 * mould.each)
    # 128 mL of plaster at 1000 kg/m3, 10 % too much mixed, 10 % fail
    assert amount(lines, "block", "material").each == pytest.approx(0.128 * 1.1 / 0.9)
    # one glued and one pressed joint; four sides, base, two collars, block and two plugs taken up
    assert amount(lines, "Small pot", "assembly").each == pytest.approx((4 + 1 + 10 * 1.5) / 60)


def test_money_is_exact_and_nothing_is_lost(costs):
    for batch in costs.batches:
        sale = batch.sale
        assert sale.price - sale.tax - sale.fees - sale.cost == sale.margin
        assert all(value == round(value, 2) for value in (sale.price, sale.tax, sale.fees, sale.cost, sale.margin))
        # the wanted quarter of the price without tax, to the coins that were rounded
        assert abs(sale.margin - sale.net * Decimal("0.25")) < Decimal("0.03")
        assert abs(sale.tax - sale.net * Decimal("0.20")) <= Decimal("0.01")
        assert batch.low < batch.unit < batch.high
        assert batch.making == sum(one.cost for one in batch.lines)
    assert costs.missing == ()


def test_break_even_is_the_first_number_that_pays(prices):
    sure = {name: replace(one, low=one.value, high=one.value) for name, one in RATES.items()}
    batch = cost_of_habitat(made.assembly(), made.measured(), sure, prices, [10]).batches[0]
    # rates that are certain leave nothing open: every draw is the bill
    assert float(batch.low) == pytest.approx(float(batch.high)) == pytest.approx(float(batch.middle))
    assert len(set(batch.break_even)) == 1
    share = 1 + prices.selling.overhead
    fixed = prices.selling.once + share * sum(
        prices.price(one.line.need) * Decimal(repr(one.line.set_up)) for one in batch.lines
    )
    each = share * sum(prices.price(one.line.need) * Decimal(repr(one.line.each)) for one in batch.lines)

    def left(number):
        return number * (batch.sale.net - batch.sale.fees - each) - fixed

    assert left(batch.break_even[0]) >= 0 > left(batch.break_even[0] - 1)


def test_break_even_has_a_range_and_a_loss_never_pays(costs, prices):
    middle, soon, late = costs.batches[1].break_even
    assert soon < middle < late
    cheap = replace(prices, selling=replace(prices.selling, price=Decimal(20)))
    found = cost_of_habitat(made.assembly(), made.measured(), RATES, cheap, [10], draws=40)
    assert found.batches[0].break_even == (None, None, None)


def test_doubled_prices_double_the_cost(costs, prices):
    def twice(one):
        return replace(one, price=2 * one.price)

    double = replace(
        prices,
        stock=tuple(map(twice, prices.stock)),
        bought=tuple(map(twice, prices.bought)),
        hours={way: 2 * p for way, p in prices.hours.items()},
        labour=2 * prices.labour,
        energy=2 * prices.energy,
        packing=2 * prices.packing,
    )
    again = cost_of_habitat(made.assembly(), made.measured(), shipped_rates(), double)
    for one, two in zip(costs.batches, again.batches, strict=True):
        assert round(two.making, 18) == round(2 * one.making, 18)
        assert float(two.high) == pytest.approx(2 * float(one.high))


@given(st.data())
@settings(max_examples=15, deadline=None)
def test_unit_cost_never_rises_with_the_batch(data):
    rates = dict(RATES)
    for name in data.draw(st.lists(st.sampled_from(sorted(RATES)), max_size=12, unique=True)):
        one = RATES[name]
        share = data.draw(st.floats(0, 1))
        rates[name] = replace(one, value=one.low + share * (one.high - one.low))
    prices = replace(read_prices(made.PRICES), bought=(PLUG,))
    counts = sorted(set(data.draw(st.lists(st.integers(1, 5000), min_size=2, max_size=4))))
    found = cost_of_habitat(made.assembly(), made.measured(), rates, prices, counts, draws=40)
    units = [one.unit for one in found.batches]
    assert all(later <= earlier for earlier, later in itertools.pairwise(units))


def test_range_is_that_of_another_way_of_drawing(costs, prices):
    # reference: points of Sobol through scipy's half normal law, every rate of the list, and the sum in floats
    from scipy.stats import halfnorm, qmc

    names, units = sorted(RATES), []
    batch = costs.batches[1]
    for point in qmc.Sobol(len(names), seed=3).random(512):
        rates = dict(RATES)
        for name, u in zip(names, point, strict=True):
            one = RATES[name]
            end = one.high if u > 0.5 else one.low
            away = min(halfnorm.ppf(abs(2 * u - 1), scale=0.5), 1.0)
            rates[name] = replace(one, value=one.value + away * (end - one.value))
        lines = bill_of(made.assembly(), made.measured(), rates)
        units.append(sum(float(prices.price(one.need)) * one.amount(10) for one in lines) * 1.15 / 10)
    for quantile, told in ((0.5, batch.unit), (0.1, batch.low), (0.9, batch.high)):
        assert float(told) == pytest.approx(np.quantile(units, quantile), rel=0.03)
    assert batch.middle < batch.unit  # the ranges reach further up than down


def test_shares_of_the_spread_are_those_of_a_sum(costs):
    # of independent inputs to a sum the squared correlations add up to one; the cost is nearly such a sum
    shares = [one.share for one in costs.moves if one.share is not None]
    assert 0.85 < sum(shares) < 1.15
    # what moves the cost most from end to end explains most of its spread
    rates = [one for one in costs.moves if one.kind == "rate"]
    assert max(rates, key=lambda one: one.share) in rates[:3]


def test_moves_are_in_order_and_reproduced(costs, prices):
    spans = [one.span for one in costs.moves]
    assert spans == sorted(spans, reverse=True)
    first = next(one for one in costs.moves if one.kind == "rate")
    rates = {**RATES, first.name: replace(RATES[first.name], value=RATES[first.name].high)}
    again = cost_of_habitat(made.assembly(), made.measured(), rates, prices, [10])
    assert again.batches[0].middle == first.high
    labour = next(one for one in costs.moves if one.name == "price of labour hour")
    dear = cost_of_habitat(
        made.assembly(), made.measured(), RATES, replace(prices, labour=prices.labour * Decimal("1.1")), [10]
    )
    assert round(dear.batches[0].middle, 12) == round(labour.high, 12)


def test_a_missing_price_is_named_and_no_total_pretended(prices):
    short = replace(prices, bought=(Bought("silicone plug 13 mm", Decimal(1)),), hours={})
    found = cost_of_habitat(made.assembly(), made.measured(), RATES, short, draws=40)
    assert {(m.what, m.nearest) for m in found.missing} == {
        ("silicone plug 12 mm", "silicone plug 13 mm"),
        ("machine hour: laser", ""),
        ("machine hour: printed", ""),
    }
    assert all(one.sale is None and one.break_even[0] is None and one.price_high is None for one in found.batches)
    assert found.to_dict()["complete"] is False


@given(
    cost=st.decimals("0.01", "9999", places=4),
    shares=st.tuples(*[st.integers(0, 30)] * 3),
    currency=st.sampled_from(["EUR", "JPY", "KWD"]),
)
@settings(max_examples=60, deadline=None)
def test_price_is_the_sum_of_where_it_goes(cost, shares, currency):
    margin, tax, fee = (Decimal(n) / 100 for n in shares)
    list_ = Prices(currency, None, selling=Selling(margin=margin, tax=tax, fee_share=fee, fee_fixed=Decimal(1)))
    sale = sale_at(cost, list_)
    # ISO 4217: yen have no minor unit, euro two decimals, Kuwaiti dinar three
    coin = Decimal(1).scaleb(-{"EUR": 2, "JPY": 0, "KWD": 3}[currency])
    assert sale.price == sale.tax + sale.fees + sale.cost + sale.margin
    assert all(value % coin == 0 for value in (sale.price, sale.tax, sale.fees, sale.cost, sale.margin))
    assert sale.margin >= sale.net * margin - 2 * coin


def test_stock_sold_in_any_way_costs_the_same():
    # 0.24 m2 of 3 mm acrylic at 1050 kg/m3 weigh 0.756 kg
    need = Need("stock", "m2", "", "acrylic", "sheet", 0.003)
    sold = [
        Stock("acrylic", "sheet", "each", Decimal("15.12"), 0.003, (0.6, 0.4)),
        Stock("acrylic", "sheet", "m2", Decimal("63"), 0.003),
        Stock("acrylic", "sheet", "kg", Decimal("20"), 0.003),
    ]
    assert [Prices("EUR", None, (one,)).price(need) for one in sold] == [Decimal(63)] * 3
    tube = Need("stock", "m", "", "acrylic", "tube", 0.0, 0.106, 0.003)
    per_metre = Prices("EUR", None, (Stock("acrylic", "tube", "kg", Decimal(20), outer=0.106, wall=0.003),)).price(tube)
    assert float(per_metre) == pytest.approx(20 * 1050 * np.pi * 0.103 * 0.003)


CSV = """item,name,price,per,form,thickness,width,depth,outer,wall,length,pack
currency,EUR,,,,,,,,,,
date,2031-03-01,,,,,,,,,,
stock,acrylic,13.60,each,sheet,3 mm,600 mm,400 mm,,,,
bought,silicone plug 12 mm,4.50,,,,,,,,,10
machine,laser,9.00,,,,,,,,,
labour,,34.00,,,,,,,,,
selling,margin,25 %,,,,,,,,,
"""


def test_what_a_part_is_made_from_is_found_in_the_list():
    mesh = Need("stock", "m2", "", "stainless steel", "mesh", 0.0, 0.0005, 0.000315)
    woven = Stock("stainless steel", "mesh", "m2", Decimal(90), outer=0.0005, wall=0.000315)
    assert Prices("EUR", None, (woven,)).price(mesh) == 90
    # 114 mm outside, 110 mm inside: from a rod of 120 mm or a tube of 120 x 6 mm, not from one of 120 x 4 mm
    blank = Need("stock", "m", "", "acrylic", "blank", 0.0, 0.114, 0.002)
    rod = Stock("acrylic", "rod", "m", Decimal(60), outer=0.12)
    thick = Stock("acrylic", "tube", "m", Decimal(50), outer=0.12, wall=0.006)
    thin = Stock("acrylic", "tube", "m", Decimal(30), outer=0.12, wall=0.004)
    assert Prices("EUR", None, (rod, thick, thin)).price(blank) == 50
    assert Prices("EUR", None, (thin,)).price(blank) is None
    items = (Bought("sealed heater", Decimal(9)), Bought("sealed heater 8 W", Decimal(12)))
    for name, price in (
        ("sealed heater 8 W for pot, air", 12),
        ("sealed heater 4 W for sump", 9),
        ("sealed heaters", None),
    ):
        assert Prices("EUR", None, bought=items).price(Need("bought", "each", name)) == price


def test_one_set_up_serves_what_is_made_alike():
    parts = (
        made.panel("front", 0.1, 0.06),
        made.panel("back", 0.1, 0.06),
        made.panel("lid", 0.1, 0.1, thickness=0.004),
    )
    assembly = replace(made.assembly(), parts=parts, joints=())
    lines = bill_of(assembly, {p.name: made.measured_panel(p) for p in parts}, shipped_rates())
    set_ups = {one.part: one.set_up * 60 for one in lines if one.task == "laser"}
    assert set_ups == {"front": 12, "back": 0, "lid": 12}


def test_a_list_as_csv_says_the_same(tmp_path):
    file = tmp_path / "prices.csv"
    file.write_text(CSV)
    found = read_prices(file)
    assert found.price(Need("stock", "m2", "", "acrylic", "sheet", 0.003)) == Decimal("13.60") / Decimal("0.24")
    assert found.price(Need("bought", "each", "silicone plug 12 mm")) == Decimal("0.45")
    assert (found.labour, found.hours["laser"], found.selling.margin) == (34, 9, Decimal("0.25"))
    with pytest.raises(InputError, match=r"prices.csv:4: .*cannot be read as a length|prices.csv:4: .*unit"):
        (file.write_text(CSV.replace("3 mm", "3")), read_prices(file))


HEAD = 'format = 1\ncurrency = "EUR"\ndate = 2031-03-01\n'
SHEET = '[[stock]]\nmaterial = "acrylic"\nform = "sheet"\nper = "m2"\nprice = 3\nthickness = "3 mm"\n'


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        (HEAD.replace("EUR", "EUT"), 2, "is no currency.*allowed: a code of ISO 4217"),
        (HEAD.replace("2031-03-01", '"last May"'), 3, "is no day"),
        (HEAD + 'note = "a\\u001b[2Jb"\n', 4, r"U\+001B"),
        (HEAD + "labour_hour = 1e300\n", 4, "no amount of money"),
        (HEAD + "labour_hour = nan\n", 4, "no amount of money"),
        (HEAD + "labour_hour = true\n", 4, "no amount of money"),
        (HEAD + "[stock]\nprice = 3\n", 4, r"\[\[stock\]\] in double brackets"),
        (HEAD + "labour_hours = 3\n", 4, "unknown key.*labour_hour"),
        (HEAD + 'packing = "4,20"\n', 4, r"no amount of money.*did you mean '4\.20'"),
        (HEAD + "packing = -1\n", 4, "no amount of money"),
        (HEAD + SHEET.replace('thickness = "3 mm"\n', ""), 4, "a sheet has no thickness"),
        (HEAD + SHEET.replace('"m2"', '"each"'), 4, "sold each, but its size is not told"),
        (HEAD + SHEET.replace('"m2"', '"m"'), 4, "not sold per m"),
        (HEAD + SHEET + SHEET, 10, "is told twice; found acrylic sheet 3 mm, as in line 4"),
        (HEAD + SHEET.replace("sheet", "sheets"), 6, "unknown word.*did you mean 'sheet'"),
        (HEAD + '[selling]\nmargin = "60 %"\nfee_share = "40 %"\n', 4, "leave nothing of the price"),
        (
            HEAD
            + '[[stock]]\nmaterial = "acrylic"\nform = "tube"\nper = "m"\nprice = 3\nouter = "10 mm"\nwall = "6 mm"\n',
            4,
            "wall of 6 mm does not fit its outer diameter of 10 mm",
        ),
    ],
)
def test_faults_of_a_list_have_their_line(tmp_path, text, line, says):
    file = tmp_path / "prices.toml"
    file.write_text(text)
    with pytest.raises(InputError) as caught:
        read_prices(file)
    assert caught.value.line == line
    assert re.search(says, str(caught.value))


def test_own_rates_stand_in_place_of_the_shipped():
    rates = own_rates(load_document('[rates]\n"printed.deposition" = [6, 7, 9]\nlaser.start = 30\n'))
    assert (rates["printed.deposition"].low, rates["printed.deposition"].high) == (6e-9, 9e-9)
    assert rates["laser.start"].value == 30
    assert rates["laser.start"].mark == "own"
    for text, says in [
        ('"printed.depositions" = 3', "did you mean 'printed.deposition'"),
        ('"printed.deposition" = 0', "above 0"),
        ('"printed.scrap" = 1.0', "0 to 0.9"),
        ('"printed.deposition" = [9, 7, 6]', "small to large"),
    ]:
        with pytest.raises(InputError, match=says) as caught:
            own_rates(load_document(f"[rates]\n{text}\n"))
        assert caught.value.line == 2
