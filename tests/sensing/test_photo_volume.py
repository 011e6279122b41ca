"""Gardens of known volume in rendered photographs: the volume, its range and the colours come back.

The scenes are those of photo_scenes.py, which shares nothing with the measurement but the printed sheet; the tolerance
of 8 % up to 20 deg of tilt is what the measurement promises. The sweep is studies/photo_volume.py.
"""

import importlib.util
import math
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest

from nestwright.errors import InputError
from nestwright.sensing.photo import Asked, Bell, measure_photo, picture_of
from nestwright.sensing.photo.outline import outline_of_mask
from nestwright.sensing.photo.pose import camera_from_sheet
from nestwright.sensing.photo.profile import revolve, silhouette_of

SPEC = importlib.util.spec_from_file_location("photo_scenes", Path(__file__).parent / "photo_scenes.py")
scenes = importlib.util.module_from_spec(SPEC)
sys.modules["photo_scenes"] = scenes
SPEC.loader.exec_module(scenes)
Body, Scene = scenes.Body, scenes.Scene
LUMPY = {2: 0.02, 3: 0.02, 4: 0.01}
GARDENS = {
    "level": Scene(Body("dome", 60, 45, LUMPY, 0.015), tilt=2, distance=260),
    "20 deg, warm light": Scene(
        Body("loaf", 65, 42, LUMPY, 0.015, seed=4), tilt=17, distance=330, lamp=(1, 0.8, 0.55), light=(-1, 0.5, 0.3)
    ),
    "beside, cold light": Scene(
        Body("ball", 62, 52, LUMPY, 0.015, seed=3), tilt=12, distance=400, beside=True, lamp=(0.75, 0.88, 1), roll=3
    ),
    "letter, under a bell": Scene(
        Body("dome", 70, 50, LUMPY, 0.015, seed=6), tilt=10, paper="letter", bell=True, turn=8, size=(1600, 1200)
    ),
}


DRAWN = {}


def taken(scene):
    """Its photograph, which is drawn once: that takes a second and more."""
    name = repr(scene)
    if name not in DRAWN:
        DRAWN[name] = scenes.jpeg(scenes.render(scene), round(scene.focal_35))
    return picture_of(DRAWN[name], "scene")


def behind(scene):
    return float(scenes.placed(scene)[0][2])


@pytest.fixture(scope="session")
def measured():
    return {name: measure_photo(taken(s), Asked(behind=behind(s))) for name, s in GARDENS.items()}


@pytest.mark.parametrize("name", GARDENS)
def test_a_volume_within_eight_percent(measured, name):
    result, true = measured[name], scenes.volume(GARDENS[name].body)
    assert abs(result.volume_ml / true - 1) < 0.08
    assert result.low < true < result.high
    assert result.low < result.volume_ml < result.high


@pytest.mark.parametrize("name", GARDENS)
def test_a_camera_found_where_it_stood(measured, name):
    scene, result = GARDENS[name], measured[name]
    foot, _, _, place = scenes.placed(scene)
    to_middle = place - foot - [0, scene.body.height / 2, 0]
    assert result.distance_mm == pytest.approx(np.linalg.norm(to_middle), rel=0.03)
    tilt = math.degrees(math.atan2(to_middle[1], math.hypot(to_middle[0], to_middle[2])))
    assert result.tilt_deg == pytest.approx(tilt, abs=1.5)


@pytest.mark.parametrize("name", GARDENS)
def test_shares_of_colour_within_twice_their_error(measured, name):
    whole = measured[name].colours[0]
    for colour, share in zip(("white", "grey", "brown", "green"), GARDENS[name].body.shares, strict=True):
        assert abs(getattr(whole, colour) - share) < 2 * whole.error[colour]
    total = whole.white + whole.grey + whole.brown + whole.green + whole.other
    assert total == pytest.approx(1.0, abs=1e-9)


def test_the_parts_of_the_error_add_up(measured):
    for result in measured.values():
        whole = math.sqrt(sum(p**2 for p in result.parts.values()))
        assert math.log(result.high / result.volume_ml) == pytest.approx(whole, rel=1e-6)


def test_a_ball_in_true_perspective():
    """A sphere's silhouette is the cone of tangents: volume by 4/3 pi r^3, whatever the tilt."""
    from nestwright.sensing.photo.pose import Camera

    r, focal = 25.0, 1500.0
    for tilt in (0.0, 10.0, 20.0):
        a = math.radians(tilt)
        place = 300.0 * np.array([0.0, math.sin(a), math.cos(a)])
        forward = -place / 300.0
        turn = np.array([[1.0, 0, 0], np.cross(forward, [1.0, 0, 0]), forward])
        camera = Camera(focal, (800.0, 600.0), turn, -turn @ place, 0, 0.0, 0.0, None)
        half = focal * r / math.sqrt(300.0**2 - r**2)
        around = np.linspace(0, 2 * math.pi, 400, endpoint=False)
        outline = np.c_[800 + half * np.cos(around), 600 + half * np.sin(around)]
        found = revolve(silhouette_of(camera, outline, 0.0))
        assert found.volume == pytest.approx(4 / 3 * math.pi * r**3, rel=0.03)
        assert found.width == pytest.approx(2 * r, rel=0.01)


def test_a_second_view_tells_the_depth():
    body = Body("dome", 60, 45, {2: 0.12}, seed=5)
    one = Scene(body, tilt=8, body_turn=65)
    two = Scene(body, tilt=8, body_turn=155)
    asked = [Asked(behind=behind(s), outline=outline_of_mask(scenes.covered(s))) for s in (one, two)]
    pictures = [taken(s) for s in (one, two)]
    true = scenes.volume(body)
    single = [measure_photo(p, a).volume_ml / true - 1 for p, a in zip(pictures, asked, strict=True)]
    both = measure_photo(pictures[0], asked[0], pictures[1], asked[1])
    assert max(map(abs, single)) > 0.12
    assert abs(both.volume_ml / true - 1) < 0.08
    assert both.views == 2
    assert both.error_relative < measure_photo(pictures[0], asked[0]).error_relative


def test_two_points_on_a_known_length():
    scene = Scene(Body("dome", 60, 45), tilt=10, sheet=False)
    foot, focal, turn, place = scenes.placed(scene)
    ends = (foot + np.array([[-40.0, 22.0, 0], [40.0, 22.0, 0]]) - place) @ turn.T
    pixels = focal * ends[:, :2] / ends[:, 2:] + [399.5, 299.5]
    asked = Asked(
        scale=(*pixels.ravel(), 80.0),
        tilt=10.0,
        outline=outline_of_mask(scenes.covered(scene)),
        bell=Bell(90, 70, True),
    )
    result = measure_photo(taken(scene), asked)
    assert abs(result.volume_ml / scenes.volume(scene.body) - 1) < 0.08
    assert not result.patch
    assert result.fill == pytest.approx(result.volume_ml / (math.pi / 6 * 9.0**2 * 7.0), rel=1e-6)
    unknown = measure_photo(taken(scene), Asked(scale=asked.scale, outline=asked.outline))
    assert unknown.parts["tilt"] > result.parts["tilt"]


def test_nothing_is_larger_than_its_bell(measured):
    scene = GARDENS["level"]
    small = Bell(40.0, 30.0)
    result = measure_photo(taken(scene), Asked(behind=behind(scene), bell=small))
    assert result.volume_ml <= small.volume / 1000
    assert any("outside the bell" in note for note in result.notes)


def test_the_control_line_scales_everything():
    scene = GARDENS["level"]
    picture = taken(scene)
    outline = outline_of_mask(scenes.covered(scene))
    plain = measure_photo(picture, Asked(behind=behind(scene), outline=outline))
    smaller = measure_photo(picture, Asked(behind=0.95 * behind(scene), outline=outline, line=95.0))
    assert smaller.volume_ml == pytest.approx(0.95**3 * plain.volume_ml, rel=0.005)


def test_corners_of_markers_to_a_fifth_of_a_pixel():
    camera = camera_from_sheet(taken(GARDENS["letter, under a bell"]))
    assert camera.paper.name == "US letter"
    assert camera.markers >= 5
    assert camera.residual < 0.25


def test_markers_of_two_papers_are_refused():
    one, two = (scenes.render(Scene(paper=paper, tilt=3)) for paper in ("a4", "letter"))
    with pytest.raises(InputError, match="two sheets"):
        camera_from_sheet(picture_of(scenes.jpeg(np.hstack([one, two]))))


def test_no_sheet_no_scale():
    with pytest.raises(InputError, match="no scale"):
        measure_photo(taken(Scene(sheet=False)), Asked())


def test_an_empty_scene_has_no_garden():
    flat = np.full((600, 800, 3), 128, np.uint8)
    page = scenes.render(Scene(Body("dome", 1.0, 0.5), tilt=2, gap=300))
    asked = Asked(scale=(100, 100, 500, 100, 80.0))
    with pytest.raises(InputError, match="no garden"):
        measure_photo(picture_of(cv2.imencode(".png", flat)[1].tobytes()), asked)
    with pytest.raises(InputError, match="no garden"):
        measure_photo(picture_of(scenes.jpeg(page)), Asked())


REAL = ("astronaut.png", "chelsea.png", "coffee.png", "rocket.jpg", "brick.png", "gravel.png", "page.png", "coins.png")


@pytest.fixture(scope="session")
def real():
    found = importlib.util.find_spec("skimage")
    if found is None:
        pytest.skip("scikit-image, which ships the photographs, is not installed")
    return Path(next(iter(found.submodule_search_locations))) / "data"


@pytest.mark.parametrize("name", REAL)
def test_no_marker_is_seen_where_there_is_none(real, name):
    """Photographs that scikit-image 0.26 ships."""
    assert camera_from_sheet(picture_of((real / name).read_bytes(), name)) is None


def test_a_real_coin_is_round(real):
    """One of the coins of scikit-image's photograph: under uneven light its outline is a circle."""
    picture = picture_of((real / "coins.png").read_bytes(), "coins.png")
    asked = Asked(scale=(81, 195, 124, 195, 20.0), tilt=0.0, around=(74, 167, 132, 225))
    result = measure_photo(picture, asked)
    points = np.array(result.outline_px)
    across = np.ptp(points, axis=0)
    assert across[0] == pytest.approx(across[1], rel=0.08)
    area = cv2.contourArea(points.astype(np.float32))
    assert area == pytest.approx(math.pi / 4 * across[0] * across[1], rel=0.04)
    assert result.colours == ()
