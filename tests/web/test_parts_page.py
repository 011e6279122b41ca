"""A habitat's parts on the page: what the commands tell, in the round in a real browser, and in words without."""

from __future__ import annotations

import io
import json
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from nestwright.habitat.file import read_habitat
from nestwright.parts.listing import parts_of
from nestwright.parts.measure import measured_from_sizes

EXAMPLES = Path(__file__).parents[2] / "examples" / "workshop"
PARTS = "/habitats/single-pot/parts"


def made_view() -> bytes:
    """A few parts by another library (trimesh), as it writes glTF: nodes with matrices, shared materials, y not up."""
    import trimesh
    from trimesh.visual.material import PBRMaterial

    def painted(mesh: Any, colour: tuple[int, int, int, int]) -> Any:
        see_through = "BLEND" if colour[3] < 255 else "OPAQUE"
        material = PBRMaterial(baseColorFactor=colour, alphaMode=see_through)
        mesh.visual = trimesh.visual.TextureVisuals(material=material)
        return mesh

    scene = trimesh.Scene()
    up = trimesh.transformations.rotation_matrix(-1.5707963267948966, (1, 0, 0))
    for name, mesh, colour, z in (
        ("tile", trimesh.creation.cylinder(0.047, 0.023, sections=64), (255, 40, 20, 255), 0.015),
        ("pot wall", trimesh.creation.annulus(0.05, 0.053, 0.07, sections=64), (120, 160, 170, 90), 0.071),
        ("pot lid", trimesh.creation.cylinder(0.053, 0.003, sections=64), (120, 160, 170, 90), 0.108),
    ):
        moved = up @ trimesh.transformations.translation_matrix((0, 0, z))
        scene.add_geometry(painted(mesh, colour), node_name=name, geom_name=f"{name} form", transform=moved)
    return bytes(scene.export(file_type="glb"))


def seen(page: Any) -> Any:
    """What the canvas shows, as pixels."""
    from PIL import Image

    return Image.open(io.BytesIO(page.locator("#solid canvas").screenshot())).convert("RGB")


def drawn_after(page: Any, act: Any) -> Any:
    """What the canvas shows once `act` has been drawn."""
    canvas = page.locator("#solid canvas")
    before = canvas.get_attribute("data-drawn")
    act()
    for _ in range(200):
        if canvas.get_attribute("data-drawn") != before:
            return seen(page)
        page.wait_for_timeout(25)
    raise AssertionError("nothing was drawn")


def open_parts(page: Any, address: str) -> None:
    page.goto(address + PARTS)
    page.wait_for_selector("tr[data-part]", timeout=60_000)


def red(picture: Any) -> int:
    """Pixels of the tile's colour."""
    return sum(r > 140 and g < 110 and b < 100 for r, g, b in picture.getdata())


def test_parts_are_turned_drawn_apart_cut_and_chosen_both_ways(bench: Any, pages: str, until: Any) -> None:
    bench.route("**/view.glb", lambda route: route.fulfill(body=made_view(), content_type="model/gltf-binary"))
    open_parts(bench, pages)
    bench.wait_for_selector("#solid:not([hidden])")
    canvas = bench.locator("#solid canvas")
    canvas.focus()  # its ring is in the picture

    def press(key: str) -> Any:
        return drawn_after(bench, lambda: bench.keyboard.press(key))

    def slid(name: str, value: str) -> Any:
        return drawn_after(bench, lambda: bench.fill(name, value))

    first = press("0")
    for key, back in (("ArrowUp", "ArrowDown"), ("ArrowLeft", "ArrowRight"), ("+", "-")):
        assert seen(bench).tobytes() != press(key).tobytes(), key
        press(back)
    # a lid and a wall stand over the tile until they are drawn apart; cut to the end nothing is left
    apart, cut = slid("#apart", "100"), slid("#cut", "50")
    assert apart.tobytes() != first.tobytes()
    assert cut.tobytes() != apart.tobytes()
    assert red(first) > 500
    assert red(cut) > 500
    assert red(slid("#cut", "100")) == 0
    slid("#apart", "0")
    slid("#cut", "0")
    # from above the lid is what a tap meets; the list says the same, and the other way about
    bench.click('[data-side="above"]')
    bench.wait_for_timeout(400)
    box = canvas.bounding_box()
    bench.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    until(lambda: canvas.get_attribute("data-chosen") == "pot lid")
    assert bench.inner_text("#solid output").startswith("pot lid: laser cut, acrylic")
    assert bench.locator("tr.chosen").get_attribute("data-part") == "pot lid"
    bench.click('button.name:text-is("tile")')
    until(lambda: canvas.get_attribute("data-chosen") == "tile")
    canvas.focus()
    before = press("Escape")
    assert canvas.get_attribute("data-chosen") == ""

    def drag() -> None:
        bench.mouse.move(box["x"] + 200, box["y"] + 200)
        bench.mouse.down()
        bench.mouse.move(box["x"] + 260, box["y"] + 150, steps=4)
        bench.mouse.up()

    assert drawn_after(bench, drag).tobytes() != before.tobytes()


@pytest.mark.parametrize("lacks", ["script", "webgl"])
def test_without_script_or_webgl_there_is_the_section_and_words(browser: Any, pages: str, lacks: str) -> None:
    context = browser.new_context(java_script_enabled=lacks != "script")
    page = context.new_page()
    page.add_init_script("HTMLCanvasElement.prototype.getContext = () => null")
    page.goto(pages + PARTS, wait_until="commit")
    while page.locator("#job").count():  # without script the page does not ask by itself
        page.wait_for_timeout(300)
        page.goto(pages + PARTS, wait_until="domcontentloaded")
    page.wait_for_selector("#solid-instead img", state="attached", timeout=60_000)
    words = "run scripts" if lacks == "script" else "WebGL"
    page.wait_for_selector(f"figcaption :text('{words}'):visible")
    assert not page.locator("#solid canvas").is_visible()
    assert page.locator("tr[data-part]").count() == len(
        parts_of(read_habitat(EXAMPLES / "habitats/single-pot.toml")).parts
    )
    context.close()


def test_the_page_tells_what_the_commands_tell(bench: Any, served: str, workshop: Path) -> None:
    shutil.copytree(EXAMPLES / "parts", workshop / "parts", dirs_exist_ok=True)
    open_parts(bench, served)
    # the view as another library (trimesh) reads it: every part where it stands, closed, of the volume that is told
    import trimesh

    bench.wait_for_selector("#solid canvas[data-drawn]", timeout=60_000)
    answer = bench.request.get(served + bench.get_attribute("#solid", "data-view"))
    scene = trimesh.load(io.BytesIO(answer.body()), file_type="glb")
    habitat = read_habitat(workshop / "habitats" / "single-pot.toml")
    forms = {
        part.name: measured_from_sizes(part)
        for part in parts_of(habitat).parts
        if part.kind not in ("fitting", "mould")
    }
    assert set(scene.geometry) == set(forms)
    for name, form in scene.geometry.items():
        assert form.is_watertight
        assert form.volume == pytest.approx(forms[name].volume, rel=0.02), name  # facets of a circle
    low, high = scene.bounds
    assert high[1] - low[1] == pytest.approx(0.111, abs=1e-3)  # y is up: a pot of 106 mm, its lid and a holder on it
    words = bench.inner_text("main")
    for part in parts_of(habitat).parts:
        assert part.name in words
    assert "Fumes: extraction. Never cut PVC" in words  # data/making_cautions.toml
    command = [sys.executable, "-m", "nestwright", "cost", "habitats/single-pot.toml", "--json"]
    costs = json.loads(subprocess.run(command, cwd=workshop, capture_output=True, text=True, check=True).stdout)
    shown = [row.locator("td").all_inner_texts() for row in bench.locator("table.money tbody tr").all()]
    assert [one["count"] for one in costs["batches"]] == [int(row[0]) for row in shown]
    for one, row in zip(costs["batches"], shown, strict=True):
        told = re.fullmatch(r"(?:at least )?([\d.]+)\s+([\d.]+) to ([\d.]+)", row[1].strip())
        assert told, row[1]
        for digits, key in zip(told.groups(), ("unit_cost", "unit_cost_low", "unit_cost_high"), strict=True):
            assert abs(float(digits) - float(one[key])) <= 0.51 * 10.0 ** -len(digits.partition(".")[2])
    links = bench.locator("td.drawn a")
    answer = bench.request.get(served + links.nth(0).get_attribute("href"))
    assert answer.ok
    assert "pot wall" in answer.text()
    assert bench.request.get(served + links.nth(1).get_attribute("href")).body().startswith(b"%PDF-")
    pictures = links.nth(0).get_attribute("href").rsplit("/", 2)[0]
    for wrong in (f"{pictures}/99/x.svg", f"{pictures}/-1/x.svg", f"{PARTS}/{'0' * 40}/view.glb"):
        assert bench.request.get(served + wrong).status in (404, 422), wrong


def test_a_design_that_cannot_be_made_says_where(bench: Any, served: str, workshop: Path, until: Any) -> None:
    file = workshop / "habitats" / "single-pot.toml"
    file.write_text(file.read_text().replace('diameter = "2 mm"', 'diameter = "2 mn"'))
    bench.goto(served + PARTS)
    until(lambda: "'2 mn'" in bench.inner_text("main"))
