"""Forecasts kept and held against the record, changes between revisions, photographs: each in the dossier as it is."""

import io
import json
import re
from datetime import date

import pytest
from PIL import Image
from pypdf import PdfReader

from nestwright.cli import demo
from nestwright.colony.model import Observation
from nestwright.errors import InputError
from nestwright.papers.dossier_content import MOST_PHOTOS, ColonyRecord, DesignRecord, record_of_design
from nestwright.papers.dossier_outcomes import changes_told, outcomes_told
from nestwright.press.setting import Photograph, set_paper
from nestwright.workshop.builds import add_build
from nestwright.workshop.changes import act
from nestwright.workshop.database import reading, writing
from nestwright.workshop.folder import create_workshop
from nestwright.workshop.kept_designs import Revision, changes, keep_design, revisions_of
from nestwright.workshop.kept_forecasts import KeptForecast
from nestwright.workshop.photos import add_photo
from nestwright.workshop.told_forecasts import keep_told, outcomes, told_of

FILE = "habitats/pot.toml"


def say(text):
    return text


def forecast(last, start, days=10):
    """A band that begins at `start` mL and grows by one a day, with 10 % to either side."""
    middle = tuple(start + n for n in range(days + 1))
    band = (tuple(0.9 * x for x in middle), middle, tuple(1.1 * x for x in middle))
    return KeptForecast(last, days, {"garden": band, "fill": band}, None, None, 0.9, ())


class Record:
    """A record of observations of gardens, mL, by day from 2031-03-01 on."""

    def __init__(self, **seen):
        self.observations = tuple(Observation(float(d[1:]), "garden", v, 0.1) for d, v in seen.items())

    def date(self, day):
        return date(2031, 3, 1 + int(day))


def test_what_was_told_stays_and_the_newest_before_the_day_is_held_against_it(tmp_path):
    keep_told(tmp_path, "Ada", date(2031, 3, 3), forecast(date(2031, 3, 1), 100))
    keep_told(tmp_path, "Ada", date(2031, 3, 6), forecast(date(2031, 3, 5), 200))
    told = told_of(tmp_path, "Ada")
    assert [t.made for t in told] == [date(2031, 3, 3), date(2031, 3, 6)]
    found = outcomes(told, Record(d1=1.0, d3=103.0, d6=150.0, d30=9.0))
    # 2031-03-02 lies before anything was told, 2031-03-31 beyond its end
    assert [(o.day.day, o.made.day, o.middle, o.inside) for o in found] == [(4, 3, 103, True), (7, 6, 202, False)]
    assert found[1].low == pytest.approx(0.9 * 202, rel=1e-3)
    _, (table,) = outcomes_told(ColonyRecord("Ada", "x", "", (), (), (), told, found), say)
    assert table["rows"][0] == ["2031-03-04", "garden", "103 mL ± 10 %", "2031-03-03", "103 (92.7 – 113) mL", "within"]


def test_a_damaged_file_or_one_of_another_colony_is_not_told(tmp_path):
    keep_told(tmp_path, "Ada", date(2031, 3, 3), forecast(date(2031, 3, 1), 100))
    (file,) = (tmp_path / "papers/forecasts").iterdir()
    whole = json.loads(file.read_text())
    for n, spoilt in enumerate(({**whole, "colony": "Eve"}, {**whole, "bands": {"garden": [[1], [1, 2], [1]]}}, [])):
        (file.parent / f"Ada-2031-04-0{n + 1}.json").write_text(json.dumps(spoilt))
    (file.parent / "Ada-2031-05-01.json").write_text("{")
    assert [t.made for t in told_of(tmp_path, "Ada")] == [date(2031, 3, 3)]


def test_without_a_forecast_it_says_so():
    lines, tables = outcomes_told(ColonyRecord("Ada", "x", "", (), (), ()), say)
    assert "No forecast of an earlier day was kept" in lines[0]
    assert tables == []


@pytest.fixture
def shop(tmp_path):
    workshop = create_workshop(tmp_path / "shop", "UTC")
    text = (demo.example_workshop() / demo.HABITAT).read_text()
    (workshop.folder / FILE).write_text(text)
    return workshop, text


def test_a_built_revision_is_kept_and_what_changed_is_told_by_key(shop):
    workshop, text = shop
    revision = re.search(r'^revision = "(.+)"', text, re.M)[1]
    assert keep_design(workshop, FILE) == f"papers/designs/pot-revision-{revision}.toml"
    size = re.search(r'^share = "(60 %)"', text, re.M)
    later = text.replace(f'revision = "{revision}"', 'revision = "9"')
    later = later[: size.start()] + 'share = "61 %"' + later[size.end() :]
    (workshop.folder / FILE).write_text(later)
    found = revisions_of(workshop, FILE, [revision, "9"])
    assert [r.name for r in found] == [revision, "9"]
    (change,) = changes(*found)
    assert (change.before, change.after) == (size[1], "61 %")
    assert change.key.endswith("share")
    # an edit of a revision that was built does not change what is kept of it
    (workshop.folder / FILE).write_text(text.replace(size[0], 'share = "70 %"', 1))
    keep_design(workshop, FILE)
    assert revisions_of(workshop, FILE, [revision])[0].texts == found[0].texts


def test_keys_that_come_and_go_are_told_as_such():
    found = changes(Revision("1", "a", {"x": "1 mm", "name": "a"}), Revision("2", "b", {"y": "2", "name": "b"}))
    assert [(c.key, c.before, c.after) for c in found] == [("x", "1 mm", None), ("y", None, "2")]
    record = DesignRecord(FILE, (), (), (), (Revision("1", "a", {"x": "1 mm"}), Revision("2", "b", {})))
    assert changes_told(record, say)[1][0]["rows"] == [["x", "1 mm", "not there"]]


def jpeg(n):
    out = io.BytesIO()
    Image.new("RGB", (900, 600), (10 * n, 90, 40)).save(out, "JPEG")
    return out.getvalue()


def test_photographs_are_made_small_the_first_and_the_newest_and_a_gone_one_is_told(shop):
    workshop, _ = shop
    with writing(workshop.engine) as connection:
        done = act(connection, "build")
        row = add_build(done, {"serial": "P-1", "habitat": FILE, "revision": "3", "made": None})
        many = MOST_PHOTOS + 2
        photos = [add_photo(done, workshop, jpeg(n), shown="a", owner="P-1", build_id=row) for n in range(many)]
    (workshop.folder / photos[-1].file).unlink()
    with reading(workshop.engine) as connection:
        record = record_of_design(workshop, connection, FILE)
    assert list(record.pictures) == [p.file for p in (photos[0], *photos[3:-1])]
    with Image.open(io.BytesIO(record.pictures[photos[0].file].jpeg)) as small:
        assert small.size == (640, 427)
        assert not small.getexif()
    assert {f.file for f in record.files} >= {p.file for p in photos}


def test_a_photograph_lies_in_the_pdf_with_its_words():
    part = {"title": "a", "lines": [], "tables": [], "picture": None}
    shown = [
        {
            "photograph": Photograph(jpeg(3), 900, 600),
            "alt": "Photograph of 2031-03-04",
            "caption": "2031-03-04. #panic()",
        }
    ]
    data = {"lang": "en", "title": "t", "lead": "", "footer": "", "none": "", "parts": [part | {"photos": shown}]}
    pdf = set_paper("dossier", data, date(2031, 3, 4))
    page = PdfReader(io.BytesIO(pdf)).pages[0]
    assert jpeg(3) in pdf, "as it came, not drawn anew"
    assert "2031-03-04. #panic()" in " ".join(page.extract_text().split())


def test_a_language_that_is_not_there_is_refused():
    from nestwright.papers.labels import labels_pdf, lay_labels, sheet_of

    laid = lay_labels([("A", "b", "1", "2031-01-01")], sheet_of("a4-24"))
    assert "Revision 1" in PdfReader(io.BytesIO(labels_pdf(laid, date(2031, 3, 4), "de"))).pages[0].extract_text()
    with pytest.raises(InputError, match="no papers in this language"):
        labels_pdf(laid, date(2031, 3, 4), "xx")
