"""Papers of a parcel: figures are those of file and result; fonts inside; same bytes; hostile names do nothing."""

import re
from dataclasses import replace
from functools import cache
from io import BytesIO

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from nestwright.cli import demo, main
from nestwright.papers.parcel import parcel_papers
from nestwright.papers.parcel_pictures import HEAT, cup_size, section_svg
from nestwright.parcel.carry import carry
from nestwright.parcel.file import read_parcel


@cache
def sent(name="winter"):
    parcel = read_parcel(demo.example_workshop() / "parcels" / f"{name}.toml")
    return parcel, carry(parcel)


def pages(pdf):
    return [re.sub(r"\s+", " ", page.extract_text()) for page in PdfReader(BytesIO(pdf)).pages]


@pytest.mark.parametrize("name", ["winter", "summer"])
def test_figures_are_those_of_file_and_journey(name):
    parcel, passage = sent(name)
    packing, label, card = pages(parcel_papers(parcel, passage))
    told, cup = passage.to_dict(), passage.to_dict()["course"]["cup_degC"]
    low, high = (
        next(x["limit"] for x in told["limits"] if (x["quantity"], x["end"]) == ("temperature", e))
        for e in ("low", "high")
    )
    lost = [told["loss"][f"garden_share_lost{end}"] * 100 for end in ("", "_low", "_high")]
    for page in (packing, card):
        assert f"{told['hours']:.0f} h" in page
        assert f"{min(cup):.1f} and {max(cup):.1f} °C, computed" in page
        assert "{:.0f} % ({:.0f} to {:.0f} %".format(*lost) in page
        assert ("a limit is passed" in page) is not told["holds"]
    for d, material in parcel.box.layers:
        assert f"{1e3 * d:g} mm {material}" in packing
    assert f"{1e6 * parcel.cup.garden:.0f} mL of garden, {parcel.cup.workers:.0f} workers" in packing
    assert f"Garden: {low:.3g} °C to {high:.3g} °C" in label
    for words in ("This way up", "Keep dry", parcel.card.name, str(parcel.promised)[:10]):
        assert words in label
    for word in ("burn", "oxygen", "sealed bag", "authority", "carrier", "permission"):
        assert word in packing


def test_what_is_not_told_is_shown_so():
    parcel, passage = sent()
    packing, label, _ = pages(parcel_papers(replace(parcel, promised=None, filler=None, packs=()), passage))
    assert "Due not told" in label
    assert "Packs none" in label
    assert "no filler is told" in packing


def test_a_journey_that_holds_is_not_warned_of():
    parcel, passage = sent()
    held = replace(passage, limits=tuple(replace(x, margin=1.0) for x in passage.limits))
    assert "every limit holds" in pages(parcel_papers(parcel, held))[0]
    assert "before anything is sent" not in pages(parcel_papers(parcel, held))[0]
    assert "before anything is sent" in pages(parcel_papers(parcel, passage))[0]


def test_fonts_are_inside_and_the_same_parcel_gives_the_same_bytes():
    pdf = parcel_papers(*sent())
    assert pdf == parcel_papers(*sent())
    fonts = [font for page in PdfReader(BytesIO(pdf)).pages for font in page["/Resources"]["/Font"].values()]
    assert fonts
    for font in fonts:
        descriptor = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
        assert "/FontFile3" in descriptor or "/FontFile2" in descriptor
    assert PdfReader(BytesIO(pdf)).trailer["/Root"]["/MarkInfo"]["/Marked"]


@settings(max_examples=15, deadline=None)
@given(st.text(max_size=60))
@example('#panic() $x$ *b* `r` @a <svg onload=x> \\ #read("/etc/passwd")')
@example("W" * 10_000)
@example("\u202e\u05e0\u05de\u05dc\u05d4 \x00\x07\n\n= Heading")
def test_a_name_is_never_markup(name):
    parcel, passage = sent()
    found = pages(parcel_papers(replace(parcel, name=name), passage))
    assert len(found) == 3
    if name.startswith("#panic"):
        assert '#panic() $x$ *b* `r` @a <svg onload=x> \\ #read("/etc/passwd")' in found[1]


def test_a_cup_as_wide_as_high_has_its_volume():
    # geometry: pi/4 d^3 = 250 mL
    assert cup_size(250e-6) == pytest.approx(0.0683, abs=5e-5)


def test_the_command_writes_them_and_refuses_another_form(tmp_path, capsys):
    file = str(demo.example_workshop() / "parcels/summer.toml")
    with pytest.raises(SystemExit) as ended:
        main.run(["parcel", file, "--papers", str(tmp_path / "a.docx")])
    assert ended.value.code == 2
    assert "ends in .pdf" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())
    with pytest.raises(SystemExit) as ended:
        main.run(["parcel", file, "--papers", str(tmp_path / "a.pdf")])
    assert not ended.value.code
    assert "a.pdf" in capsys.readouterr().out.replace("\n", "")
    assert len(pages((tmp_path / "a.pdf").read_bytes())) == 3


@pytest.mark.parametrize(("place", "number"), [("side", 2), ("top", 3), ("wrapped", 1)])
def test_every_pack_is_drawn(place, number):
    """Regression: two packs were one bar."""
    parcel, _ = sent()
    packs = (replace(parcel.packs[0], place=place, number=number),)
    assert section_svg(replace(parcel, packs=packs), "cup", "filler").count(f'fill="{HEAT}"') == number


def test_in_german_its_figures_are_the_same_and_its_words_are_not():
    parcel, passage = sent()
    english, german = (" ".join(pages(parcel_papers(parcel, passage, one))) for one in ("en", "de"))
    assert "Packanweisung" in german
    for word in ("Packing", "Open at once", "cup", "workers"):
        assert word in english
        assert word not in german
    figures = [sorted(re.findall(r"\d+(?:[.,]\d+)?", told.replace(",", "."))) for told in (english, german)]
    assert figures[0] == figures[1]
    assert re.search(r"\d,\d und \d+,\d °C", german)
    assert "Wellpappe" in german
