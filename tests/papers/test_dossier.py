"""The dossier: what stands in it is what proof and record say; what is missing says so; no text becomes markup."""

import hashlib
from dataclasses import replace
from datetime import date
from io import BytesIO

import pytest
from pypdf import PdfReader

from nestwright.charts.section import section_svg
from nestwright.cli import demo, main
from nestwright.climate.proof import prove
from nestwright.climate.room_window import window
from nestwright.climate.rooms import read_room
from nestwright.errors import InputError
from nestwright.habitat.file import read_habitat
from nestwright.habitat.model import Pattern
from nestwright.papers.dossier import dossier_pdf, dossier_sheet
from nestwright.papers.dossier_content import record_of_design
from nestwright.papers.names import drawn
from nestwright.papers.words import words_of
from nestwright.wording.proof import limit_rows
from nestwright.workshop.builds import add_build, check_build, find_build, measure_build
from nestwright.workshop.changes import act
from nestwright.workshop.database import reading, writing
from nestwright.workshop.folder import create_workshop

FILE = "habitats/pot.toml"
MADE = date(2031, 3, 10)
HOSTILE = '#pagebreak() *bold* $x$ "] \\ @ref <label> \u202egnirts #read("/etc/hosts")'


@pytest.fixture(scope="session")
def proved(tmp_path_factory):
    folder = tmp_path_factory.mktemp("dossier") / "shop"
    workshop = create_workshop(folder, "UTC")
    (folder / FILE).write_text((demo.example_workshop() / demo.HABITAT).read_text())
    habitat = read_habitat(folder / FILE)
    with writing(workshop.engine) as connection:
        done = act(connection, "builds")
        for serial in ("P-001", "P-002"):
            row = add_build(done, {"serial": serial, "habitat": FILE, "revision": "3", "made": None})
            measure_build(done, row, "height", "118.4 mm", "2031-02-01", HOSTILE)
        check_build(done, row, "mesh", False, "", "2031-02-02", "torn at the edge")
    return workshop, habitat, prove(habitat, read_room("21 degC, 45 %")), window(habitat, points=12)


def paper(proved, serials=()):
    workshop, habitat, proof, field = proved
    with reading(workshop.engine) as connection:
        record = record_of_design(workshop, connection, FILE, serials)
    return dossier_pdf(habitat, section_svg(habitat), proof, limit_rows(proof, year=False), field, record, MADE), record


def text_of(pdf):
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def test_each_limit_stands_with_the_figures_of_the_proof(proved):
    told = text_of(paper(proved)[0])
    rows = limit_rows(proved[2], year=False)[1]
    assert len(rows) > 4
    for row in rows:
        assert " ".join(" ".join(row).split()) in told
    for name in proved[2].judgements:
        assert name in told


def test_the_share_of_rooms_that_hold_is_that_of_the_window(proved):
    held = proved[3].worst >= 0
    assert 0 < held.mean() < 1
    assert f"Of this field {100 * held.sum() / held.size:.0f} % hold." in text_of(paper(proved)[0])


def test_every_font_lies_in_the_file(proved):
    fonts = {}
    for page in PdfReader(BytesIO(paper(proved)[0])).pages:
        fonts |= page["/Resources"].get("/Font", {})
    assert fonts
    for font in fonts.values():
        inner = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
        assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(inner)


def test_record_checks_and_sums(proved):
    pdf, record = paper(proved)
    told = text_of(pdf)
    assert "118.4 mm" in told
    assert "build P-002 mesh 2031-02-02 torn at the edge" in told
    sum_ = hashlib.sha256((proved[0].folder / FILE).read_bytes()).hexdigest()
    assert sum_ in told.replace(" ", "")
    assert record.to_dict()["files"] == [{"file": FILE, "sha256": sum_}]


def test_what_is_missing_says_so(proved):
    told = text_of(paper(proved)[0])
    assert "made not recorded" in told
    assert "Dry run: no dry run is kept." in told
    assert "no colony" in told


def test_text_of_a_user_is_never_markup(proved):
    told = text_of(paper(proved)[0])
    assert '#pagebreak() *bold* $x$ "] \\ @ref <label>' in told
    assert '#read("/etc/hosts")' in told


def test_same_bytes_and_one_build_alone(proved):
    both, _ = paper(proved)
    assert both == paper(proved)[0]
    one = text_of(paper(proved, ["P-001"])[0])
    assert "Build P-001" in one
    assert "P-002" not in one


def test_a_build_of_another_design_is_refused(proved):
    with pytest.raises(InputError, match="no build of this design") as refused:
        paper(proved, ["P-01"])
    assert refused.value.nearest == "P-001"


def test_a_file_that_is_gone_is_told(proved):
    workshop = proved[0]
    with reading(workshop.engine) as connection:
        assert find_build(connection, "P-001").serial == "P-001"
        record = record_of_design(workshop, connection, "habitats/gone.toml")
    assert [one.sha256 for one in record.files] == [None]
    assert record.builds == ()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["nothing"], "no design of this workshop"),
        (["pot", "--out", "d.docx"], "ends in .pdf"),
        (["../x.toml"], "design"),
    ],
)
def test_what_cannot_be_is_refused_by_the_command(proved, words, told, capsys, monkeypatch):
    monkeypatch.chdir(proved[0].folder)
    with pytest.raises(SystemExit) as left:
        main.run(["dossier", *words])
    assert left.value.code == 2
    assert told in capsys.readouterr().err
    assert not [*proved[0].folder.glob("*.pdf"), *proved[0].folder.glob("*.docx")]


def test_openings_stand_with_their_size_and_what_they_stop(proved):
    workshop, habitat, proof, field = proved
    with reading(workshop.engine) as connection:
        record = record_of_design(workshop, connection, FILE)

    def openings(aperture, language="en"):
        vents = tuple(replace(v, pattern=Pattern("mesh", 0.02, 0.0, 1, aperture, 2e-4, 4e-4)) for v in habitat.vents)
        changed = replace(habitat, vents=vents)
        rest = (limit_rows(proof, year=False), field, record)
        sheet = dossier_sheet(changed, section_svg(habitat), proof, *rest, language=language)
        return sheet["parts"][0]["tables"][1]["rows"]

    wide, fine = openings(1.6e-3), openings(1e-4)
    assert len(wide) == len(habitat.vents) + len(habitat.grids)
    name, kind, number, size, widest, stops, outcome = wide[0]
    assert (name, kind, number, size, outcome) == (habitat.vents[0].name, "mesh", "1", "1.6", "passes")
    assert float(stops) < 1.6 < float(widest)
    assert fine[0][-1] == "stopped"
    assert openings(1.6e-3, "de")[0][3] == "1,6"


@pytest.mark.parametrize(
    ("hours", "told"), [(None, "a year and its hours were not asked for"), (8760, "over 8760 hours")]
)
def test_steady_or_through_a_record_is_said(proved, hours, told):
    workshop, habitat, proof, field = proved
    with reading(workshop.engine) as connection:
        record = record_of_design(workshop, connection, FILE)
    limits = limit_rows(proof, year=hours is not None)
    sheet = dossier_sheet(habitat, section_svg(habitat), proof, limits, field, record, hours)
    assert told in " ".join(sheet["parts"][1]["lines"])
    assert sheet["parts"][1]["tables"][0]["rows"] == limits[1]


def test_a_drawing_speaks_the_language_of_its_paper():
    svg = "<text>Ø 120 to 100 × 90.5</text><text>946 over all</text><text>to stay × 3</text>"
    told = drawn(svg, {"to stay × 3"}, "de", words_of("de").gettext)
    assert told == "<text>Ø 120 bis 100 × 90,5</text><text>946 über alles</text><text>to stay × 3</text>"
