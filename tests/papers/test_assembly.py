"""The assembly instruction: every part once, in an order in which it can be done; the same bytes; a user's text is no
markup."""

import re
from dataclasses import replace
from io import BytesIO

import pytest
from pypdf import PdfReader

from nestwright.cli import demo
from nestwright.errors import InputError
from nestwright.habitat.file import read_habitat
from nestwright.papers.assembly import assembly_pdf, assembly_sheet, steps_of
from nestwright.parts.making import make_parts
from nestwright.parts.model import Assembly, Joint, Part
from nestwright.parts.order import assembly_steps
from nestwright.parts.together import Taken, taken_apart


@pytest.fixture(scope="session")
def made():
    one = make_parts(read_habitat(demo.example_workshop() / "habitats/single-pot.toml"), check=False)
    return replace(one, taken=taken_apart(one.assembly, one.solids))


def text_of(pdf):
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def test_every_part_goes_in_once_and_the_opposite_way_of_coming_out(made):
    steps = [s for s in steps_of(made) if s.kind == "place"]
    put = [name for s in steps for name in s.parts]
    standing = {p.name for p in made.assembly.parts if p.kind not in ("mould", "coupon", "fitting")}
    assert sorted(put) == sorted(standing)
    assert {s.parts: s.way for s in steps} == {g: "down" for g, way in made.taken.steps if way == "up"}
    assert steps_of(made)[-1].parts == ("probe sensor",)


def test_groups_are_joined_before_they_go_in_and_along_their_joints(made):
    steps = steps_of(made)
    for n, step in enumerate(steps):
        if step.kind == "place" and len(step.parts) > 1:
            joined = [
                k for k, other in enumerate(steps) if other.kind == "join" and set(other.parts) == set(step.parts)
            ]
            assert len(joined) == 1
            assert joined[0] < n


def test_the_paper_names_parts_with_their_material_and_the_cautions(made):
    told = text_of(assembly_pdf(made))
    for part in made.assembly.parts:
        assert (f"{part.name} ({part.material})" in told) == (part.kind not in ("mould", "coupon"))
    assert "residual current device" in told
    assert made.assembly.sha256[:40] in re.sub(r"[\s\u200b]", "", told)


def test_same_bytes_tagged_and_in_german(made):
    pdf = assembly_pdf(made)
    assert pdf == assembly_pdf(made)
    root = PdfReader(BytesIO(pdf)).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712 - pypdf's own truth
    assert root["/Lang"] == "en"
    german = assembly_sheet(made, "de")
    english = assembly_sheet(made)
    assert german["title"] != english["title"]
    assert not set(german["cautions"]["lines"]) & set(english["cautions"]["lines"])
    with pytest.raises(InputError, match="no papers in this language"):
        assembly_pdf(made, language="xx")


def test_hostile_names_are_no_markup(made):
    odd = replace(made, assembly=replace(made.assembly, habitat='#panic() *b* "] \u202ex' + "y" * 10_000))
    told = text_of(assembly_pdf(odd))
    assert '#panic() *b* "] x' in told


def part(name, kind="panel"):
    return Part(name, kind, "chamber.pot", "laser", "acrylic", 1, {})


def test_a_lid_goes_on_after_what_it_stands_on_but_not_past_what_lies_over_it():
    parts = tuple(map(part, ("box", "lid", "roof")))
    stands = Joint("lid on box", "box", "lid", 0.1, 0.0, 0.0, kind="stands")
    assembly = Assembly("a", "1", "0", parts, (stands,))
    taken = Taken(((("roof",), "up"), (("box",), "to +x"), (("lid",), "up")), ())
    boxes = {"box": ((0, 0, 0), (9, 9, 5)), "lid": ((0, 0, 5), (9, 9, 6)), "roof": ((0, 0, 8), (9, 9, 9))}
    assert [s.parts for s in assembly_steps(assembly, taken, boxes)] == [("box",), ("lid",), ("roof",)]
    # with the roof between the two the lid would no longer go down
    taken = Taken(((("box",), "to +x"), (("roof",), "up"), (("lid",), "up")), ())
    assert [s.parts for s in assembly_steps(assembly, taken, boxes)] == [("lid",), ("roof",), ("box",)]
