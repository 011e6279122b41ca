"""Labels and certificate of builds: on the paper what the record holds, each in its place; codes that are read."""

import shutil
import subprocess
from datetime import date
from io import BytesIO

import cv2
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from nestwright.errors import InputError
from nestwright.papers.certificate import certificate_of, certificate_pdf
from nestwright.papers.labels import labels_pdf, lay_labels, sheet_of, sheets
from nestwright.workshop.builds import Made

DAY = date(2026, 3, 4)
MM = 72 / 25.4


def builds(n):
    return [(f"AP-{i:03d}", "Alder pot", "7", "2026-02-03") for i in range(n)]


def check(what, passed, day="2026-02-04", value=""):
    return {"what": what, "passed": passed, "value": value, "day": day, "note": ""}


def made(quality=(), measured=(), **other):
    values = {"serial": "AP-031", "habitat": "habitats/alder.toml", "revision": "7", "made": "2026-02-03"} | other
    return Made(1, values, tuple(measured), tuple(quality))


def text_of(pdf):
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


@pytest.mark.parametrize("name", list(sheets()))
def test_labels_stay_on_their_page_and_off_each_other(name):
    sheet = sheet_of(name)
    laid = lay_labels(builds(sheet.across * sheet.down), sheet)
    assert laid.pages == 1
    for one in laid.labels:
        assert 0 <= one.left <= sheet.page[0] - sheet.label[0] + 1e-9
        assert 0 <= one.top <= sheet.page[1] - sheet.label[1] + 1e-9
    corners = [(one.left, one.top) for one in laid.labels]
    for i, a in enumerate(corners):
        for b in corners[:i]:
            assert abs(a[0] - b[0]) >= sheet.label[0] - 1e-9 or abs(a[1] - b[1]) >= sheet.label[1] - 1e-9


def test_pages_are_as_large_as_the_paper_and_as_many_as_needed():
    pdf = labels_pdf(lay_labels(builds(9), sheet_of("a4-8"), skip=7), DAY)
    pages = PdfReader(BytesIO(pdf)).pages
    assert len(pages) == 2
    # ISO 216: A4 is 210 mm x 297 mm
    assert [float(x) / MM for x in pages[0].mediabox[2:]] == pytest.approx([210, 297], abs=0.01)
    assert "AP-000" in pages[0].extract_text()
    assert "AP-001" not in pages[0].extract_text()
    assert "AP-008" in pages[1].extract_text()


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="no pdftoppm here")
@pytest.mark.parametrize(("name", "address"), [("a4-40", "http://bench.local/builds/"), ("single-60x30", "")])
def test_a_printed_code_is_read_by_another_reader(tmp_path, name, address):
    laid = lay_labels(builds(1), sheet_of(name), address=address)
    (tmp_path / "a.pdf").write_bytes(labels_pdf(laid, DAY))
    subprocess.run(
        ["pdftoppm", "-r", "300", "-png", "-singlefile", tmp_path / "a.pdf", tmp_path / "a"], check=True, timeout=30
    )
    label = cv2.imread(str(tmp_path / "a.png"))[: int(30 * 300 / 25.4), : int(60 * 300 / 25.4)]
    told = cv2.QRCodeDetector().detectAndDecode(label)[0]
    assert told == laid.labels[0].code
    assert "AP-000" in told


def test_an_address_takes_a_serial_of_any_letters():
    assert (
        lay_labels([("a/b ?", "x", "", "")], sheet_of("a4-8"), address="http://h/").labels[0].code
        == "http://h/a%2Fb%20%3F"
    )


def test_a_long_name_is_shortened_in_the_code():
    """Regression: a habitat's long name was refused."""
    code = lay_labels([("AP-1", "ä" * 400, "3", "2026-01-31")], sheet_of("a4-8")).labels[0].code
    assert code.startswith("AP-1\nää")
    assert code.endswith("ä...\nrevision 3\nmade 2026-01-31")
    assert 190 < len(code.encode()) <= 200


@pytest.mark.parametrize(
    ("rows", "options"),
    [
        (builds(1), {"skip": 24}), ([], {}), ([("s" * 10_000, "", "", "")], {}),
        (builds(1), {"address": "javascript:alert(1)//"}),
    ],
)  # fmt: skip
def test_what_has_no_place_is_refused(rows, options):
    with pytest.raises(InputError) as refused:
        lay_labels(rows, sheet_of("a4-24"), **options)
    assert refused.value.allowed


def test_unknown_paper_names_the_nearest():
    with pytest.raises(InputError) as refused:
        sheet_of("a4-25")
    assert refused.value.nearest == "a4-24"


def test_the_certificate_tells_the_record():
    measured = [{"what": "height", "value": "118.4 mm", "day": "2026-02-04", "note": "inside"}]
    found = certificate_of(made([check("leak", True, value="0.3 mL"), check("light", None)], measured), "Alder pot")
    text = text_of(certificate_pdf(found, DAY))
    for words in (
        "AP-031",
        "Alder pot",
        "118.4 mm",
        "inside",
        "0.3 mL",
        "passed",
        "not looked at yet",
        "still to be made",
    ):
        assert words in text
    assert found.to_dict()["measured"] == measured


@pytest.mark.parametrize(
    ("checks", "verdict"),
    [
        ((), "none"),
        ((check("leak", True),), "passed"),
        ((check("leak", True), check("light", None)), "open"),
        ((check("leak", None), check("light", False)), "failed"),
        ((check("leak", False), check("leak", True)), "passed"),
        ((check("leak", True), check("leak", False)), "failed"),
    ],
)
def test_a_verdict_is_that_of_the_last_look(checks, verdict):
    assert certificate_of(made(checks), "x").verdict == verdict


def test_what_is_not_recorded_reads_so():
    text = text_of(certificate_pdf(certificate_of(made(revision=None, made=None), "Alder pot"), DAY))
    assert text.count("not told") == 2
    for words in ("None recorded.", "Not measured.", "No check of this build is recorded."):
        assert words in text


def test_the_same_record_gives_the_same_bytes():
    laid = lay_labels(builds(3), sheet_of("a4-24"))
    assert labels_pdf(laid, DAY) == labels_pdf(laid, DAY)


@settings(max_examples=15, deadline=None)
@given(st.text(max_size=40))
@example('#panic() $x$ *b* #read("/etc/passwd")')
@example("W" * 10_000)
@example("\u202e\u05e0\u05de\u05dc\u05d4 \x00\x07\n\n= Heading")
def test_a_name_is_never_markup(name):
    pdf = certificate_pdf(certificate_of(made([check(name, True)], serial=name or "x"), name), DAY)
    assert PdfReader(BytesIO(pdf)).pages
    if name.startswith("#panic"):
        assert '#panic() $x$ *b* #read("/etc/passwd")' in text_of(pdf)
    pdf = labels_pdf(lay_labels([(name[:20], name[:20], "", "")], sheet_of("single-60x30")), DAY)
    assert len(PdfReader(BytesIO(pdf)).pages) == 1
