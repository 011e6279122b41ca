"""A habitat's parts on the page: what the commands tell, in the round in a real browser, and in words without."""

from __future__ import annotations

import hashlib
import io
import json
import re
import shutil
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.web.conftest import PATIENCE, run, serving

from forked import done
from nestwright.habitat.file import read_habitat
from nestwright.parts.listing import parts_of
from nestwright.parts.measure import measured_from_sizes

EXAMPLES = Path(__file__).parents[2] / "examples" / "workshop"
PARTS = "/habitats/single-pot/parts"


@pytest.fixture(scope="module")
def making(example_workshop: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    """Address and folder of a workshop with a price list; one process, since a modeller of solids takes seconds."""
    folder = tmp_path_factory.mktemp("making") / "bench-room"
    shutil.copytree(example_workshop, folder)
    shutil.copytree(EXAMPLES / "parts", folder / "parts", dirs_exist_ok=True)
    with serving(folder) as address:
        yield address, folder


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
    for _ in range(40 * PATIENCE):
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


def test_parts_are_turned_drawn_apart_cut_and_chosen_both_ways(
    bench: Any, making: tuple[str, Path], until: Any
) -> None:
    bench.route("**/view.glb", lambda route: route.fulfill(body=made_view(), content_type="model/gltf-binary"))
    open_parts(bench, making[0])
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
def test_without_script_or_webgl_there_is_the_section_and_words(
    browser: Any, making: tuple[str, Path], lacks: str
) -> None:
    context = browser.new_context(java_script_enabled=lacks != "script")
    page = context.new_page()
    page.add_init_script("HTMLCanvasElement.prototype.getContext = () => null")
    page.goto(making[0] + PARTS, wait_until="commit")
    while page.locator("#job").count():  # without script the page does not ask by itself
        page.wait_for_timeout(300)
        if lacks == "script":
            page.goto(making[0] + PARTS, wait_until="domcontentloaded")
    page.wait_for_selector("#solid-instead img", state="attached", timeout=60_000)
    words = "run scripts" if lacks == "script" else "WebGL"
    page.wait_for_selector(f"figcaption :text('{words}'):visible")
    assert not page.locator("#solid canvas").is_visible()
    assert page.locator("tr[data-part]").count() == len(
        parts_of(read_habitat(EXAMPLES / "habitats/single-pot.toml")).parts
    )
    context.close()


def test_the_page_tells_what_the_commands_tell(bench: Any, making: tuple[str, Path]) -> None:
    served, workshop = making
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
    assert "No two parts share space" in words
    assert "Fumes: extraction. Never cut PVC" in words  # data/making_cautions.toml
    costs = json.loads(done("cost", "habitats/single-pot.toml", "--json", cwd=workshop, check=True).stdout)
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


@pytest.mark.parametrize(("light", "width"), [("light", 1440), ("dark", 390), ("night", 820)])
def test_the_page_is_accessible_and_fits(
    browser: Any, making: tuple[str, Path], light: str, width: int, unmet: Any
) -> None:
    # axe-core's rules for WCAG 2.2 level A and AA, as of every page; here, since this one has to be waited for
    context = browser.new_context(viewport={"width": width, "height": 900}, bypass_csp=True, reduced_motion="reduce")
    context.add_cookies([{"name": "nw-shown", "value": f"en.degC.metric.{light}", "url": making[0]}])
    page = context.new_page()
    open_parts(page, making[0])
    page.wait_for_selector("#solid canvas[data-drawn]", timeout=60_000)
    page.locator("button.name").first.click()
    found = unmet(page)
    context.close()
    assert found == []


def test_files_are_written_whole_and_no_path_leads_out(
    bench: Any, making: tuple[str, Path], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    served, workshop = making
    open_parts(bench, served)
    bench.click("text=Write the files")
    bench.wait_for_selector("ul.files", state="attached", timeout=60_000)
    folder = workshop / "parts" / "Single-pot-3"
    there = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
    assert set(bench.locator("ul.files a").all_text_contents()) == there
    # the folder that the command writes, and the same folder in one
    monkeypatch.chdir(workshop)
    capsys.readouterr()
    run("parts", "habitats/single-pot.toml", "--out", "by-command", "--json")
    told = json.loads(capsys.readouterr().out)
    same = {one["file"]: one["sha256"] for one in told["files"]}
    assert {n: hashlib.sha256((folder / n).read_bytes()).hexdigest() for n in there - {"parts.json"}} == same
    with zipfile.ZipFile(io.BytesIO(bench.request.get(f"{served}{PARTS}/all.zip").body())) as packed:
        assert {n.removeprefix("Single-pot-3/") for n in packed.namelist()} == there
        assert packed.testzip() is None
    assert not [p.name for p in (workshop / "parts").iterdir() if p.name.startswith(".")]
    links = bench.locator("ul.files a")
    for number in range(links.count()):
        answer = bench.request.get(served + links.nth(number).get_attribute("href"))
        assert answer.body() == (folder / links.nth(number).text_content()).read_bytes()
    for wrong in ("..%2Fprices.toml", "%2e%2e/prices.toml", "drawings", "/etc/passwd"):
        assert bench.request.get(f"{served}{PARTS}/files/{wrong}").status == 404, wrong
    listed = json.loads((folder / "parts.json").read_text())
    file = workshop / "habitats" / "single-pot.toml"
    assert listed["habitat_sha256"] == hashlib.sha256(file.read_bytes()).hexdigest()
    # another text under the same revision: the page says that these are not its files
    file.write_text(file.read_text() + "\n# moved\n")
    open_parts(bench, served)
    assert "not of the habitat as it stands now" in bench.inner_text("main")


def test_a_design_that_cannot_be_made_says_where(bench: Any, served: str, workshop: Path, until: Any) -> None:
    file = workshop / "habitats" / "single-pot.toml"
    file.write_text(file.read_text().replace('diameter = "5 mm"', 'diameter = "5 mn"'))
    bench.goto(served + PARTS)
    until(lambda: "'5 mn'" in bench.inner_text("main"))


def test_parts_that_are_not_what_was_proved_are_refused_on_the_page(bench: Any, making: tuple[str, Path]) -> None:
    served, workshop = making
    file = workshop / "habitats" / "three-pot.toml"
    file.write_text(file.read_text().replace('length = "81.7 mm"', 'length = "84 mm"', 1))
    bench.goto(served + "/habitats/three-pot/parts")
    bench.wait_for_selector("text=81.733 mm", timeout=120_000)
    told = bench.inner_text("main")
    assert "84 mm" in told
    assert "All come out" not in told
    assert bench.locator("form[action$='/files'] button").count() == 0
    assert not list((workshop / "parts").glob("*three*"))
