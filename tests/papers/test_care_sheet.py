"""The care sheet: its figures are those of the result, in every form and language; hostile names do nothing."""

import re
import tomllib
from dataclasses import replace
from datetime import date
from importlib import resources
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from nestwright.climate.results import WindowMap
from nestwright.habitat.file import read_habitat
from nestwright.habitat.model import Shape
from nestwright.papers.care import care_html, care_pdf
from nestwright.papers.care_content import Care, Stand, gardens_of
from nestwright.papers.words import languages
from nestwright.press.setting import readable

DAY = date(2026, 3, 4)
WORKSHOP = Path(__file__).parents[2] / "examples/workshop"


def window(holds=True):
    t, h = np.linspace(283.15, 308.15, 11), np.linspace(0.15, 0.9, 7)
    worst = np.where((np.abs(t - 294) < 5)[:, None] & np.ones(7, bool), 1.0, -1.0) if holds else -np.ones((11, 7))
    return WindowMap("n", "1", t, h, ("pot: CO2",), worst[None], "", np.zeros(0), np.zeros(0), None, {}, 1.0)


def care(**other):
    values = {
        "habitat": "Alder pot", "revision": "7", "serial": "AP-031", "species": "Acromyrmex octospinosus",
        "room_temperature": 19.5, "room_humidity": 0.43, "holds": True, "first_limit": "pot: CO2", "share": 0.31,
        "stands": (Stand(0.3, 17.3, 24.9), Stand(0.45, 16.1, 25.7), Stand(0.6, None, None)), "best": (21.0, 0.5),
        "water": ((0.3, 1.37, 11.2), (0.45, 0.52, 47.3), (0.6, 0.001, None)), "store": 83.0, "heater": 3.26,
        "set_point": 24.5, "leaves": ((25.0, 0.11, 0.2, 0.53), (400.0, 1.1, 3.3, 8.4)),
        "bells": (137.0, 412.0), "fill_high": 0.8, "colony": "Heron", "full": (date(2026, 4, 5), date(2026, 5, 6)),
        "judgements": ("one", "two", "three"),
    }  # fmt: skip
    return Care(**(values | other))


def text_of(pdf):
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages))


@pytest.mark.parametrize("language", ["en", "de"])
def test_every_figure_is_that_of_the_result(language):
    text = text_of(care_pdf(care(), window(), DAY, language))
    wanted = [
        "17.3",
        "24.9",
        "16.1",
        "25.7",
        "19.5",
        "43",
        "1.4",
        "0.5",
        "83",
        "3.3",
        "24.5",
        "137",
        "412",
        "8.4",
        "80",
    ]
    # two thirds of the days that the water lasts, and a month at most
    wanted += ["8", "30", "3"]
    for figure in wanted:
        said = figure.replace(".", ",") if language == "de" else figure
        assert re.search(rf"(?<![\d.,]){re.escape(said)}(?![\d]|[.,]\d)", text), said
    for word in ("Alder pot", "AP-031", "Heron", "Acromyrmex octospinosus"):
        assert word in text
    assert ("April 5, 2026" if language == "en" else "5. April 2026") in text


def test_a_verdict_that_may_turn_is_told_as_only_just():
    told = care_html(care(only_just="pot/bell: humidity"), window())
    assert "it may stand there, but only just. What fails first when something changes: pot/bell: humidity." in told
    assert "only just" not in care_html(care(), window())


def test_a_wall_that_is_wet_by_the_proof_is_no_sign_of_trouble():
    dry, wet = (care_html(care(wet=one, opens=True), window()) for one in ((), ("pot/bell", "dump")))
    assert "Drops on the wall or the garden" in dry
    assert "Drops on the wall" not in wet
    assert "A thin film on walls is as computed for this design, in: pot/bell, dump" in wet
    assert "take a plug out of a vent" in wet


def test_an_opening_that_lets_workers_through_is_told_first_of_all_cautions():
    both = care(lets_through=("louvre", "pot grid"), may_let_through=("collar",))
    for told in (care_html(both, window()), text_of(care_pdf(both, window(), DAY))):
        assert "the smallest workers get through the openings of: louvre, pot grid. Let no ants in" in told
        assert "may get through the openings of: collar." in told
        assert told.index("louvre, pot grid") < told.index("collar") < told.index("must not escape")
    assert "get through" not in care_html(care(), window())


def test_leaves_are_told_for_gardens_up_to_the_largest_room():
    habitat = read_habitat(WORKSHOP / "habitats/single-pot.toml")
    for room, sizes in (
        (60, (25, 50, 100)), (790, (25, 50, 100, 200, 400, 800)), (2000, (25, 100, 400, 1600, 6400)), (20, (25,))
    ):  # fmt: skip
        side = Shape("box", *[(room * 1e-6) ** (1 / 3)] * 3, 0.0)
        chambers = tuple(replace(c, shape=side) for c in habitat.chambers)
        assert gardens_of(replace(habitat, chambers=chambers, bells=())) == sizes


@pytest.mark.parametrize("language", ["en", "de"])
def test_two_pages_with_fonts_inside_and_tagged(language):
    reader = PdfReader(BytesIO(care_pdf(care(), window(), DAY, language)))
    assert len(reader.pages) == 2
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert reader.trailer["/Root"]["/Lang"].startswith(language)
    fonts = [font.get_object() for page in reader.pages for font in page["/Resources"]["/Font"].values()]
    assert fonts
    for font in fonts:
        inner = font["/DescendantFonts"][0].get_object()["/FontDescriptor"]
        assert any(key in inner for key in ("/FontFile", "/FontFile2", "/FontFile3"))


def test_the_same_inputs_give_the_same_bytes():
    assert care_pdf(care(), window(), DAY) == care_pdf(care(), window(), DAY)


def test_a_room_that_fails_and_a_design_that_never_holds_are_told():
    told = text_of(care_pdf(care(holds=False, stands=(Stand(0.3, None, None),), share=0.0), window(False), DAY))
    assert "not there. What fails first: pot: CO2" in told
    assert "no such room on the map" in told


def test_more_air_is_advised_only_where_a_vent_can_be_opened():
    for language, plug, fixed in (("en", "a plug out", "one size"), ("de", "einen Stopfen aus", "feste Größe")):
        opens, drilled = (care_html(care(opens=one), window(), language) for one in (True, False))
        assert plug in opens
        assert plug not in drilled
        assert fixed in drilled
        assert fixed not in opens


def test_a_span_of_one_figure_is_told_as_about():
    told = care_html(care(stands=(Stand(0.3, 20.21, 20.24),)), window())
    assert "about 20.2 °C" in told
    assert "20.2 to 20.2" not in told
    assert "etwa 20,2 °C" in care_html(care(stands=(Stand(0.3, 20.21, 20.24),)), window(), "de")


def test_what_is_missing_is_told_as_missing():
    none = care(heater=None, set_point=None, bells=(), full=None, colony="", water=(), store=0.0, serial="")
    told = text_of(care_pdf(none, window(), DAY))
    for said in ("no heater", "no bell", "No date can be told", "no water of its own"):
        assert said in told
    assert "None" not in told
    lived_in = care_html(care(colony="Thrift", full=None), window())
    assert "For Thrift no date can be told" in lived_in
    assert "no colony's forecast" not in lived_in


HOSTILE = (
    '#emph[x] *b* $a$ \\ ] } "quote" <script>alert(1)</script> \u202etxet\u0000\u001b[31m שלום 蟻 \ud7ff' + "w" * 10_000
)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.text(max_size=300))
@example(HOSTILE)
def test_a_hostile_name_is_letters_and_nothing_else(name):
    sheet = care(habitat=name, colony=name, serial=name)
    pdf = care_pdf(sheet, window(), DAY)
    assert len(PdfReader(BytesIO(pdf)).pages) <= 4
    html = care_html(sheet, window())
    assert "<script" not in html
    assert html.count("<h1>") == 1


def test_markup_of_a_name_is_printed():
    told = text_of(care_pdf(care(habitat="#emph[x] *b* $a$"), window(), DAY))
    assert "#emph[x] *b* $a$" in told


def test_what_steers_a_line_is_left_out():
    assert readable("a\u202eb\u0000c\nd\u200be") == "ab c de"
    assert readable("蟻 ok") == "? ok"
    assert len(readable("x" * 10_000)) <= 400


def test_the_page_for_a_phone_needs_nothing_else():
    html = care_html(care(), window(), "de")
    assert not re.search(r"(?:src|href)=|<script|url\(|@import", html)
    assert "17,3" in html
    assert "<svg" in html


def test_every_text_has_its_translation():
    from babel.messages.extract import extract
    from babel.messages.pofile import read_po

    import nestwright.papers.words as words
    from nestwright.papers.names import catalogued

    cautions = tomllib.loads((resources.files("nestwright.data") / "making_cautions.toml").read_text("utf-8"))
    texts = {row["text"] for group in cautions.values() for row in group.values()} | set(catalogued())
    for file in words.FOLDER.parent.glob("*.py"):
        with file.open("rb") as stream:
            texts |= {m for _, m, _, _ in extract("python", stream, keywords={"_": None, "N_": None}) if m}
    for language in languages()[1:]:
        with (words.FOLDER / language / "paper.po").open("rb") as stream:
            known = {m.id: m.string for m in read_po(stream) if m.id}
        assert set(known) == texts
        for text, told in known.items():
            assert told, text
            assert set(re.findall(r"\{\w*\}", text)) == set(re.findall(r"\{\w*\}", told)), text


def test_the_command_writes_it(tmp_path, capsys):
    from nestwright.cli.main import run

    file = Path(__file__).parents[2] / "examples/workshop/habitats/single-pot.toml"
    with pytest.raises(SystemExit) as stop:
        run(["caresheet", str(file), "--out", str(tmp_path / "c.pdf"), "--json"])
    assert stop.value.code == 0, capsys.readouterr().err
    assert (tmp_path / "c.pdf").read_bytes().startswith(b"%PDF")
    with pytest.raises(SystemExit) as stop:
        run(["caresheet", str(file), "--out", str(tmp_path / "c.doc")])
    assert stop.value.code == 2
    with pytest.raises(SystemExit) as stop:
        run(["caresheet", str(file), "--language", "xx", "--out", str(tmp_path / "d.pdf")])
    assert stop.value.code == 2
    assert not (tmp_path / "d.pdf").exists()


def test_a_build_is_told_for_the_ant_that_lives_in_it(tmp_path, capsys):
    from nestwright.cli.main import run
    from nestwright.papers.care_made import design_of_build
    from nestwright.workshop.folder import find_workshop

    shop = tmp_path / "shop"
    design = Path(__file__).parents[2] / "examples/workshop/habitats/single-pot.toml"
    for command in (
        ["workshop", "new", str(shop)],
        ["build", "add", "SP-1", "--habitat", "habitats/single-pot.toml", "--workshop", str(shop)],
        ["colony", "add", "Fern", "--species", "Atta cephalotes", "--start", "2026-01-05", "--workshop", str(shop)],
        ["colony", "move", "Fern", "SP-1", "--workshop", str(shop)],
    ):
        if command[0] == "build":
            (shop / "habitats/single-pot.toml").write_bytes(design.read_bytes())
        with pytest.raises(SystemExit) as stop:
            run(command)
        assert stop.value.code == 0, capsys.readouterr().err
    habitat, serial, colony, full = design_of_build(find_workshop(shop), "SP-1")
    assert (habitat.species, serial, colony, full) == ("Atta cephalotes", "SP-1", "Fern", None)
