"""The command `photo`: what it writes and prints, and what it refuses."""

import importlib.util
import json
import sys
from pathlib import Path

import pytest
from PIL import Image

from nestwright.cli.main import run
from nestwright.cli.photo import parse_bell, parse_scale, rounded
from nestwright.errors import InputError

SPEC = importlib.util.spec_from_file_location("photo_scenes", Path(__file__).parents[1] / "sensing" / "photo_scenes.py")
scenes = importlib.util.module_from_spec(SPEC)
sys.modules["photo_scenes"] = scenes
SPEC.loader.exec_module(scenes)


@pytest.fixture(scope="module")
def picture(tmp_path_factory):
    path = tmp_path_factory.mktemp("photo") / "garden.jpg"
    scene = scenes.Scene(scenes.Body("dome", 60, 45, {2: 0.02, 3: 0.02}, 0.015), tilt=6, distance=280)
    path.write_bytes(scenes.jpeg(scenes.render(scene), 27))
    return path


def answered(arguments, capsys):
    with pytest.raises(SystemExit) as left:
        run([str(one) for one in arguments])
    return left.value.code, *capsys.readouterr()


def test_measured_drawn_corrected_and_measured_again(picture, tmp_path, capsys):
    out, drawn = tmp_path / "garden.json", tmp_path / "garden.png"
    code, printed, _ = answered(["photo", picture, "--behind", "38 mm", "--out", out, "--picture", drawn], capsys)
    assert code == 0
    assert "nine in ten between" in printed
    assert "depth, which is not seen" in printed
    with Image.open(drawn) as image:
        assert image.size == (800, 600)
        assert not image.getexif()
    first = json.loads(out.read_text())
    told = ["photo", picture, "--behind", "38 mm", "--outline", out, "--json"]
    code, printed, _ = answered(told, capsys)
    again = json.loads(printed)
    assert again["volume_mL"] == pytest.approx(first["volume_mL"], rel=0.01)
    assert set(again) == set(first)
    first["outline_px"] = [[x, y] for x, y in first["outline_px"] if x < 400]
    out.write_text(json.dumps(first))
    code, printed, _ = answered(told, capsys)
    assert json.loads(printed)["volume_mL"] < 0.6 * again["volume_mL"]


def test_the_sheet_is_written(tmp_path, capsys):
    path = tmp_path / "sheet.pdf"
    code, printed, _ = answered(["photo", "--sheet", path, "--paper", "letter"], capsys)
    assert code == 0
    assert "US letter" in printed
    assert path.read_bytes().startswith(b"%PDF-")


WRONG = {
    "nothing": ([], "needs one picture, or two"),
    "sheet and picture": (["PICTURE", "--sheet", "a.pdf"], "--sheet: stands beside a picture"),
    "sheet of another kind": (["--sheet", "a.png"], "--sheet: is written in one form"),
    "paper": (["--sheet", "a.pdf", "--paper", "a5"], "--paper: no such paper"),
    "bell": (["PICTURE", "--bell", "75"], "--bell: cannot be read"),
    "bell and width": (
        ["PICTURE", "--bell", "diameter 9 mm, height 9 mm", "--width", "80 mm"],
        "--width: stands beside",
    ),
    "unit": (["PICTURE", "--behind", "4 mL"], "--behind: wrong unit"),
    "clicks": (["PICTURE", "--scale", "1,2,3,75 mm"], "--scale: cannot be read"),
    "clicks outside": (["PICTURE", "--scale", "1,2,9000,4,75 mm"], "--scale: lies outside the picture"),
    "clicks on one another": (["PICTURE", "--scale", "10,10,12,10,75 mm"], "--scale: the two points lie too close"),
    "tilt with a sheet": (["PICTURE", "--tilt", "5"], "--tilt: is read off the sheet"),
    "line": (["PICTURE", "--line", "10 mm"], "--line: is far from 100 mm"),
    "out": (["PICTURE", "--out", "a.txt"], "--out: is written in one form"),
    "no outline": (["PICTURE", "--outline", "none.json"], "none.json: cannot be read"),
    "two with clicks": (["PICTURE", "PICTURE", "--scale", "1,2,300,4,75 mm"], "--scale: belongs to one picture"),
    "not far enough": (["PICTURE", "--behind", "2 m"], "--behind: the camera would stand behind the garden"),
}


@pytest.mark.parametrize("name", WRONG)
def test_refused_in_one_line(name, picture, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    arguments, said = WRONG[name]
    code, printed, told = answered(["photo", *(picture if a == "PICTURE" else a for a in arguments)], capsys)
    assert code == 2
    assert said in told
    assert told.count("\n") == 1
    assert not printed
    assert not list(tmp_path.iterdir())


OUTLINES = {
    "no JSON": ("{", "is not JSON"),
    "no points": ('{"outline_px": []}', "holds no outline"),
    "no numbers": ('[[1, "a"], [2, 3], [4, 5]]', "holds no outline"),
    "too far": ("[[10, 10], [99999, 10], [10, 90]]", "a point lies outside the picture"),
    "no area": ("[[10, 10], [10, 10], [10, 10]]", "is no area"),
    "nested": ("[" * 3000, "is not JSON"),
}


@pytest.mark.parametrize("name", OUTLINES)
def test_outlines_that_are_none(name, picture, tmp_path, capsys):
    file = tmp_path / "outline.json"
    text, said = OUTLINES[name]
    file.write_text(text)
    code, _, told = answered(["photo", picture, "--outline", file], capsys)
    assert code == 2
    assert said in told


def test_texts_of_options():
    bell = parse_bell("diameter 75 mm, height 5.5 cm, dome")
    assert (bell.diameter, bell.height, bell.dome) == pytest.approx((75.0, 55.0, True))
    assert parse_scale("1,2,3,4,75 mm") == pytest.approx((1, 2, 3, 4, 75))
    with pytest.raises(InputError, match="needs both"):
        parse_bell("diameter 75 mm")


def test_no_more_digits_than_there_are():
    assert rounded(81.23, 25.0) == "81"
    assert rounded(1234.0, 400.0) == "1230"
    assert rounded(4.267, 0.9) == "4.27"


def test_kept_with_a_colony_as_a_visit_without_its_place_and_once(picture, tmp_path, capsys):
    from nestwright.workshop.colonies import find_colony
    from nestwright.workshop.database import reading
    from nestwright.workshop.folder import find_workshop
    from nestwright.workshop.photos import find_photos
    from nestwright.workshop.visits import read_visits

    home = tmp_path / "home"
    at = ["--workshop", home]
    assert answered(["workshop", "new", home, "--zone", "UTC"], capsys)[0] == 0
    made = ["colony", "add", "Teasel", "--species", "Atta cephalotes", "--start", "2020-01-01", *at]
    assert answered(made, capsys)[0] == 0
    located = tmp_path / "located.jpg"
    exif = Image.Exif()
    exif[0x8825] = {1: "N", 2: (1.0, 2.0, 3.0)}
    exif[0x0132] = "2026:02:03 10:00:00"
    Image.open(picture).save(located, exif=exif, quality=95)
    command = ["photo", located, "--behind", "38 mm", "--colony", "Teasel", "--visit", "--json", *at]
    code, printed, _ = answered(command, capsys)
    assert code == 0
    told = json.loads(printed)
    workshop = find_workshop(home)
    with reading(workshop.engine) as connection:
        kept = find_colony(connection, "Teasel")
        (photo,) = find_photos(connection, colony_id=kept.id)
        ((_, visit),) = read_visits(connection, kept.id)
    assert visit.day.isoformat() == told["kept"]["visit"] == "2026-02-03"
    assert visit.garden_ml == pytest.approx(told["volume_mL"], rel=1e-5)
    assert photo.measured["volume_mL"] == pytest.approx(told["volume_mL"], rel=1e-5)
    assert not Image.open(home / photo.file).getexif().get_ifd(0x8825)
    assert answered(["photo", located, "--colony", "Teasel", "--keep", *at], capsys)[0] == 0
    with reading(workshop.engine) as connection:
        assert len(find_photos(connection, colony_id=kept.id)) == 1


@pytest.mark.parametrize("option", ["--keep", "--visit"])
def test_keeping_needs_a_colony(picture, option, capsys):
    code, _, said = answered(["photo", picture, option], capsys)
    assert code == 2
    assert option in said
    assert "--colony" in said
