"""Batches: what a plan must hold for any count; purchases and serials by hand."""

import importlib.util
from collections import Counter
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from nestwright.errors import InputError
from nestwright.parts.batch import next_serials, plan_batch
from nestwright.parts.batch_files import serials_on
from nestwright.parts.layouts import Product
from nestwright.parts.machines import read_machines
from nestwright.parts.model import Measured
from nestwright.parts.prices import Bought, read_prices
from nestwright.parts.purchases import bars_of

SPEC = importlib.util.spec_from_file_location("made", Path(__file__).with_name("made.py"))
made = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(made)
MACHINES = read_machines(made.ROOT / "examples/workshop/parts/machines.toml")
PRICES = replace(read_prices(made.PRICES), bought=(Bought("silicone plug 12 mm", Decimal("4.50"), 10, "a shop"),))


def plan(count, **changed):
    product = Product(changed.pop("assembly", made.assembly()), changed.pop("measured", made.measured()), "pot.toml")
    return plan_batch([product], count, changed.pop("machines", MACHINES), PRICES, **changed)


@pytest.mark.parametrize("count", [1, 7, 60])
def test_every_piece_lies_once_and_is_made_before_it_is_used(count):
    found = plan(count)
    laid = Counter(p.piece.name for one in found.layouts for p in one.pieces)
    assert laid["side"] == int(4 * count / 0.96 + 1e-9)
    assert laid["collar"] == int(2 * count / 0.94 + 1e-9)
    assert laid["block mould"] == max(1, -(-count // 40))
    for one in found.layouts:
        for p in one.pieces:
            assert min(p.x, p.y) >= 0
            assert p.x + p.width <= one.bed.width + 1e-9
            assert p.y + p.depth <= one.bed.depth + 1e-9
    # every build has each of its parts once, in each number that it needs; spares and moulds are nobody's
    marks = Counter(
        (p.piece.name, serial)
        for one, serials in zip(found.layouts, serials_on(found), strict=True)
        for p, serial in zip(one.pieces, serials, strict=True)
    )
    assert {marks["side", serial] for serial, _ in found.serials} == {4}
    assert {marks["collar", serial] for serial, _ in found.serials} == {2}
    assert marks["side", ""] == laid["side"] - 4 * count
    assert marks["block mould", ""] == laid["block mould"]
    ends = {}
    for run in found.runs:
        ends[run.job.name] = max(ends.get(run.job.name, 0), run.end_day)
    together = [run for run in found.runs if run.job.name.endswith("putting together")]
    assert len(together) == count
    making = [(r.end_day, r.end) for r in found.runs if r.job.way != "hand"]
    assert min((run.day, run.start) for run in together) >= max(making)
    taking_off = next(run for run in found.runs if run.job.name == "collar: taking off and finishing")
    printed = [r for r in found.runs if r.job.name in {o.name for o in found.layouts if o.material == "PETG"}]
    assert (taking_off.day, taking_off.start) >= max((r.end_day, r.end) for r in printed)
    plates = {one.name for one in found.layouts if any(p.piece.name == "block mould" for p in one.pieces)}
    casts = [run for run in found.runs if run.job.name == "block"]
    assert len(casts) == int(count / 0.9 + 1e-9)
    assert min(run.day for run in casts) > max(ends[name] for name in plates) - (count > 40)
    assert found.fewest_days <= found.days == max(run.end_day for run in found.runs) + 1
    assert found == plan(count)


def test_purchases_by_hand():
    found = {one.what: one for one in plan(10).purchases}
    # 2 plugs each, 2 % lost: 20.4, so three packs of ten
    plugs = found["silicone plug 12 mm"]
    assert (plugs.amount, plugs.unit, plugs.cost, plugs.supplier) == (3, "packs of 10", Decimal("13.50"), "a shop")
    # 41 sides of 100 x 60 mm and 10 bases of 100 x 100 mm cover 0.346 m2: two sheets of 0.24 m2 at least
    sheets = found["acrylic sheet 3 mm of 600 x 400 mm"]
    assert sheets.amount == 2
    assert sheets.cost == Decimal("27.20")
    # ten blocks of 128 g and what is mixed too much or fails, to 10 g: 1.5644 kg
    assert found["plaster powder"].amount == Decimal("1.57")
    assert found["packing"].amount == 10
    assert plan(10).money == sum(one.cost for one in found.values())


def test_a_missing_price_leaves_the_money_open():
    bare = plan_batch([Product(made.assembly(), made.measured())], 2, MACHINES, replace(PRICES, bought=()))
    assert [m.what for m in bare.missing] == ["silicone plug 12 mm"]
    assert bare.to_dict()["money_complete"] is False


def test_sheets_of_no_told_size_are_bought_by_area():
    assembly, sizes = made.assembly(), made.measured()
    foam = made.panel("jacket", 0.2, 0.1, quantity=2, thickness=0.025, way="cut", material="polyethylene foam")
    whole = replace(assembly, parts=(*assembly.parts, foam))
    found = {
        p.what: p for p in plan(5, assembly=whole, measured={**sizes, "jacket": made.measured_panel(foam)}).purchases
    }
    # ten of 0.02 m2, of which 5 % fail, on 70 % of the sheet: 0.3008 m2
    assert found["polyethylene foam sheet 25 mm"].amount == Decimal("0.31")
    assert found["polyethylene foam sheet 25 mm"].unit == "m2"
    assert found["polyethylene foam sheet 25 mm"].cost is None


def test_bars_by_hand():
    # 300 + 300 + 300 with two cuts of 4 mm leave 88 mm of a metre; the fourth begins a second bar
    assert bars_of([0.3] * 3, 1.0, 0.004) == 1
    assert bars_of([0.3] * 4, 1.0, 0.004) == 2
    assert bars_of([0.25] * 4, 1.0, 0.0) == 1
    assert bars_of([], 1.0, 0.0) == 0


def test_serials_go_on_from_those_there_are():
    assert next_serials(["0009"], 3) == ("0010", "0011", "0012")
    assert next_serials(["A-099", "B-7"], 2) == ("A-100", "A-101")
    assert next_serials(["shed"], 1) == ("0001",)
    # the last number is counted on, and one that is taken in another spelling is not made twice
    assert next_serials(["0010", "9999999"], 1) == ("10000000",)
    found = plan(3, taken=["0041"]).serials
    assert [serial for serial, _ in found] == ["0042", "0043", "0044"]


def test_what_fits_no_machine_is_told_with_both_sizes():
    sizes = made.measured()
    tall = Measured("collar", 1e-4, 0.1, 0.1, (0.03, 0.03, 0.3))
    with pytest.raises(
        InputError, match=r"pot.toml:21: collar: .*30 x 30 x 300 mm; allowed: printer left 220 x 220 x 240"
    ):
        plan(1, measured={**sizes, "collar": tall})
    assembly = made.assembly()
    big = made.panel("base", 0.7, 0.5, line=17)
    whole = replace(assembly, parts=tuple(big if p.name == "base" else p for p in assembly.parts))
    with pytest.raises(InputError, match=r"pot\.toml:17: base: .*700 x 500 mm; allowed: 591\.7 x 391\.7 mm"):
        plan(1, assembly=whole, measured={**sizes, "base": made.measured_panel(big)})
    no_laser = replace(MACHINES, machines=tuple(m for m in MACHINES.machines if m.way != "laser"))
    with pytest.raises(InputError, match="no machine makes this"):
        plan(1, machines=no_laser)
    with pytest.raises(InputError, match="1 to 1000"):
        plan(0)


HABITAT = made.ROOT / "examples/workshop/habitats/three-pot.toml"


def written(tmp_path, count=3):
    from nestwright.habitat.file import read_habitat
    from nestwright.parts.batch_files import write_batch

    found = plan(count)
    habitat = replace(read_habitat(HABITAT), name="Small pot", revision="2")
    names = write_batch(found, {"Small pot": habitat}, tmp_path, found.to_dict(), ("Extract the fumes.",))
    assert sorted(names) == sorted(p.relative_to(tmp_path).as_posix() for p in tmp_path.rglob("*") if p.is_file())
    return found, names


def areas(path):
    """Area of every closed outline of a DXF, mm2, by the surveyor's formula, and the audit's findings."""
    import ezdxf

    drawing = ezdxf.readfile(path)
    found = []
    for line in drawing.modelspace().query('LWPOLYLINE[layer=="CUT_OUTSIDE"]'):
        p = [(x, y) for x, y, *_ in line.get_points()]
        assert line.closed
        found.append(abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(p, p[1:] + p[:1], strict=True))) / 2)
    return found, drawing.audit().errors, drawing.units


def test_files_hold_the_plan(tmp_path):
    found, names = written(tmp_path)
    cut = []
    for name in (n for n in names if n.endswith(".dxf")):
        here, errors, units = areas(tmp_path / name)
        assert (errors, units) == ([], 4)  # ezdxf's own audit; 4 is mm in the DXF reference, $INSUNITS
        cut += here
    # twelve sides and three bases; the example's laser cuts 0.16 mm wide, half of it on every side
    assert sorted(cut) == pytest.approx([100.16 * 60.16] * 12 + [100.16 * 100.16] * 3)
    assert any("0.16 mm wide is taken off" in note for note in found.notes)
    assert any("-0.18 mm" in note and "slicer" in note for note in found.notes)
    import csv
    import xml.etree.ElementTree as ET

    texts = [ET.parse(tmp_path / name).getroot() for name in names if name.endswith(".svg")]
    told = Counter(t.text for root in texts for t in root.iter("{http://www.w3.org/2000/svg}text"))
    assert [told[f"side {serial}"] for serial, _ in found.serials] == [4, 4, 4]
    rows = list(csv.DictReader((tmp_path / "purchases.csv").open()))
    assert sum(Decimal(row["cost"]) for row in rows) == round(found.money, 2)
    sheets = [tmp_path / n for n in names if n.endswith(".pdf")]
    assert len(sheets) == 3
    assert all(one.read_bytes().startswith(b"%PDF-") for one in sheets)


def test_names_of_the_user_are_no_markup():
    from io import BytesIO

    from pypdf import PdfReader

    from nestwright.habitat.file import read_habitat
    from nestwright.parts.quality import quality_pdf

    habitat = replace(read_habitat(HABITAT), name='Pot "#[x] \\ $1$ *b*')
    odd = made.assembly()
    odd = replace(odd, parts=tuple(replace(p, name='#import "x" ]') for p in odd.parts))
    sheet = quality_pdf('1"]', habitat, odd, ("#panic()",))
    shown = " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(sheet)).pages).split())
    assert "#panic()" in shown
    assert 'Build 1"]: Pot "#[x] \\ $1$ *b*' in shown
    assert quality_pdf("1", habitat, odd) == quality_pdf("1", habitat, odd)
