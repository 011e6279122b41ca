"""Every fault that a design can have: one clear message with file, line and field; nothing else is said."""

from pathlib import Path

import pytest

from nestwright.errors import InputError
from nestwright.habitat.check import WATER_CAUTION, check_habitat
from nestwright.habitat.file import FileError, check_file, read_habitat

FOLDER = Path(__file__).parent / "designs"
"""Copies of the examples that stay as they are while those are tuned."""
POT, ROW, BENCH, CASE = "single-pot", "three-pot", "heated-bench", "glass-case"


# Each row: example, what stands there, its number there (from 1), what is put in its place, words of the message,
# the field, the nearest name. An edit of one line keeps all line numbers, so the fault must be told at that line.
FAULTS = [
    (POT, 'diameter = "1.2 mm"', 1, 'diameter = "1.2 kg"', "wrong unit", "grid.pot.diameter", ""),
    (POT, 'diameter = "1.2 mm"', 1, 'diameter = "1.2 mn"', "wrong unit", "grid.pot.diameter", "m"),
    (POT, "count = 160", 1, "cuont = 160", "unknown key", "grid.pot.cuont", "count"),
    (POT, "count = 160", 1, 'count = "160"', "wrong sort", "grid.pot.count", ""),
    (POT, "count = 160", 1, "count = -1", "out of range", "grid.pot.count", ""),
    (POT, "count = 160", 1, "count = 16000", "together exceed the grid", "grid.pot.count", ""),
    (POT, 'role = "garden"', 1, 'role = "gardn"', "unknown word", "chamber.pot.role", "garden"),
    (POT, 'height = "70 mm"', 1, 'height = "-70 mm"', "negative", "chamber.pot.height", ""),
    (POT, 'height = "70 mm"', 1, 'height = "0 mm"', "larger than zero", "chamber.pot.height", ""),
    (
        POT,
        'layers = ["3 mm acrylic"]',
        1,
        'layers = ["3 mm acrylik"]',
        "unknown material",
        "chamber.pot.layers[0]",
        "acrylic",
    ),
    (POT, 'layers = ["2 mm acrylic"]', 1, 'layers = ["2 mm glas"]', "unknown material", "bell.pot.layers[0]", "glass"),
    (POT, 'material = "acrylic"', 1, 'material = "akrylic"', "unknown material", "grid.pot.material", "acrylic"),
    (POT, "species = *", 1, 'species = "Trachymyrmex septentrionaliss"', "no card", "species", "Trachymyrmex*"),
    (POT, 'chamber = "sump"', 1, 'chamber = "smup"', "no chamber of this name", "water.tile.chamber", "sump"),
    (
        POT,
        'touches = "bench"',
        1,
        'touches = "bnech"',
        "touches something unknown",
        "chamber.sump.base.touches",
        "bench",
    ),
    (POT, 'name = "sump"', 1, 'name = "pot"', "second chamber", "chamber[1].name", ""),
    (POT, 'name = "sump"', 1, 'name = "room"', "kept for what lies around", "chamber.room.name", ""),
    (POT, 'name = "sump"', 1, 'name = "su.mp"', "not a usable name", "chamber[1].name", ""),
    (POT, 'diameter = "70 mm"', 1, 'diameter = "99 mm"', "bell is larger than its chamber", "bell.pot.diameter", ""),
    (POT, 'height = "50 mm"', 1, 'height = "68 mm"', "bell is higher than its chamber", "bell.pot.height", ""),
    (POT, 'volume = "60 mL"', 1, 'volume = "260 mL"', "garden is larger than its bell", "garden.pot.volume", ""),
    (POT, 'store = "90 mL"', 1, 'store = "300 mL"', "more water than its chamber", "water.tile.store", ""),
    (
        POT,
        'free_surface = "70 cm2"',
        1,
        'free_surface = "700 cm2"',
        "larger than its chamber",
        "water.tile.free_surface",
        "",
    ),
    (POT, 'height = "60 mm"', 1, 'height = "75 mm"', "reaches above its chamber", "vent.crown.height", ""),
    (POT, 'height = "60 mm"', 1, 'height = "0.5 mm"', "reaches below", "vent.crown.height", ""),
    (POT, 'diameter = "2 mm"', 1, 'diameter = "80 mm"', "vent is larger than the side", "vent.crown.diameter", ""),
    (POT, "count = 6", 1, "count = 9000", "together exceed the side", "vent.crown.count", ""),
    (POT, 'face = "side"', 1, 'face = "base"', "only a vent in the side has a height", "vent.crown.*", ""),
    (POT, 'lid_gap = "0.05 mm"', 1, 'lid_gap = "90 mm"', "gap is higher than the chamber", "chamber.pot.lid_gap", ""),
    (POT, 'lag = "90 s"', 1, 'lag = "90 m"', "wrong unit", "sensor.probe.lag", "min"),
    (POT, "format = 1", 1, "format = true", "unknown word", "format", ""),
    (POT, "format = 1", 1, "format = 0", "unknown word", "format", ""),
    (POT, 'refill = "when empty"', 1, 'refill = "sometimes"', "cannot be read", "water.tile.refill", ""),
    (ROW, 'place = ["-230 mm"*', 1, 'place = ["-130 mm", "0 mm", "3 mm"]', "overlaps", "chamber.forage.place", ""),
    (
        ROW,
        'place = ["0 mm", "0 mm", "48 mm"]',
        1,
        'place = ["0 mm", "0 mm", "58 mm"]',
        "does not reach",
        "chamber.*",
        "",
    ),
    (ROW, 'length = "82 mm"', 1, 'length = "60 mm"', "shorter than the way", "passage.leaf way.length", ""),
    (ROW, 'from_height = "60 mm"', 1, 'from_height = "79 mm"', "does not fit", "passage.leaf way.from_height", ""),
    (ROW, 'to = "dump"', 1, 'to = "garden pot"', "two different chambers", "passage.waste way.to", ""),
    (ROW, 'to = "dump"', 1, 'to = "damp"', "no chamber of this name", "passage.waste way.to", "dump"),
    (ROW, 'closes = "waste way"', 1, 'closes = "wast way"', "no vent or passage", "plug.wast way.closes", "waste way"),
    (ROW, 'share = "60 %"', 1, 'share = "160 %"', "is too large", "plug.waste way.share", ""),
    (ROW, 'name = "chimney"', 1, 'name = "leaf way"', "second vent or passage", "*leaf way", ""),
    (ROW, 'above = "garden pot"', 1, 'above = "forage"', "does not stand above", "grid.forage.above", ""),
    (ROW, 'name = "drinker"', 1, 'name = "!"', "not a usable name", "water.forage.name", ""),
    (BENCH, 'sensor = "probe-a"', 1, 'sensor = "prob-a"', "no sensor of this name", "heater.mat.sensor", "probe-a"),
    (BENCH, 'sensor = "probe-a"', 1, "", "needs the key 'sensor'", "heater.mat", ""),
    (BENCH, 'band = "0.6 K"', 1, 'band = "0 K"', "without a band", "heater.mat.band", ""),
    (BENCH, 'band = "2 K"', 1, 'band = "0 K"', "over which its power falls", "heater.cord.band", ""),
    (BENCH, 'control = "thermostat"', 1, 'control = "constant"', "not steered", "heater.mat.*", ""),
    (BENCH, 'power = "8 W"', 1, 'power = "8 Wt"', "wrong unit", "heater.mat.power", "W"),
    (BENCH, 'where = "side"', 1, 'where = "water"', "no water in this chamber", "heater.cord.where", ""),
    (BENCH, 'where = "side"', 1, 'where = "base"', "no heater can lie on its outer side", "heater.cord.where", ""),
    (BENCH, 'chamber = "garden-b"', 4, 'chamber = "gardn-b"', "no chamber", "heater.cord.chamber", "garden-b"),
    (BENCH, 'to = "garden-b"', 1, 'to = "garden-a"', "so no air passes to 'garden-a'", "vent.hatch.to", ""),
    (BENCH, 'to = "room"', 1, 'to = "roam"', "opens to the room", "vent.louvre.to", "room"),
    (BENCH, 'length = "25 mm"', 1, 'length = "250 mm"', "vent is larger than the side", "vent.louvre.length", ""),
    (BENCH, 'faces = ["side"]', 1, 'faces = ["top"]', "nothing can be laid outside", "insulation.sump-a.faces", ""),
    (BENCH, 'faces = ["side"]', 1, "faces = []", "0 items", "insulation.sump-a.faces", ""),
    (BENCH, 'layer = "20 mm*', 1, 'layer = "20 mm straw bale"', "unknown material", "insulation.garden-a.layer", ""),
    (BENCH, 'co2 = "at most 3 %"', 1, 'co2 = "below 3 %"', "cannot be read as a limit", "limits.garden.co2", ""),
    (
        BENCH,
        'temperature = "21*',
        1,
        'temperature = "27 degC to 21 degC"',
        "not below",
        "limits.garden.temperature",
        "",
    ),
    (BENCH, "[limits.dump]", 1, "[limits.damp]", "unknown word", "limits.damp", "dump"),
    (
        BENCH,
        'top_diameter = "100 mm"',
        1,
        'diameter = "100 mm"',
        "needs the key 'top_diameter'",
        "chamber.garden-b",
        "",
    ),
    (BENCH, 'depth = "90 mm"', 1, 'depth = "117 mm"', "bell is larger", "bell.garden-a.width", ""),
    (BENCH, 'aperture = "1 mm"', 1, "", "needs the key 'aperture'", "vent.skylight", ""),
    (BENCH, "under_bell = true", 1, "under_bell = 1.5", "wrong sort", "sensor.probe-a.under_bell", ""),
    (CASE, 'under = "none"', 0, "under_bell = true", "no bell", "sensor.probe.under_bell", ""),
    (CASE, 'free_surface = "80 cm2"', 1, 'free_surface = "8000 cm2"', "pool is larger", "water.tray.free_surface", ""),
]


def _matches(pattern: str, text: str) -> bool:
    if pattern.startswith("*"):
        return text.endswith(pattern[1:])
    return text.startswith(pattern[:-1]) if pattern.endswith("*") else text == pattern


def _edit(name: str, old: str, which: int, new: str, folder: Path) -> tuple[Path, int]:
    """Write an example with one line changed; which = 0 appends the line to the first sensor."""
    lines = (FOLDER / f"{name}.toml").read_text().splitlines()
    if which == 0:
        at = lines.index("[[sensor]]") + 2
        lines.insert(at, new)
    else:
        hits = [i for i, line in enumerate(lines) if _matches(old, line.split("   ")[0].strip())]
        at = hits[which - 1]
        lines[at] = new
    path = folder / "edited.toml"
    path.write_text("\n".join(lines) + "\n")
    return path, at + 1


@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f"{f[5]}: {f[4]}")
def test_a_fault_is_told_with_file_line_and_field(fault: tuple, tmp_path: Path) -> None:
    name, old, which, new, words, field, nearest = fault
    path, line = _edit(name, old, which, new, tmp_path)
    with pytest.raises(InputError) as caught:
        read_habitat(path)
    assert isinstance(caught.value, FileError)
    hits = [e for e in caught.value.errors if words in e.message and _matches(field, e.field)]
    assert hits, str(caught.value)
    error = hits[0]
    assert error.file == str(path)
    assert str(error).startswith(f"{path}:{error.line}: ")
    assert _matches(nearest, error.nearest)
    block = max(i for i in range(line) if i == 0 or path.read_text().splitlines()[i].startswith("["))
    if "second" in words or "needs" in words or field.endswith("*"):  # told at the part, not at one key
        assert error.line > 0
    else:
        assert block < error.line <= line + 3 if which else error.line == line


def test_openings_that_exceed_a_grid_tell_both_areas(tmp_path: Path) -> None:
    """By hand: 16000 holes of 1.2 mm are 180.96 cm2; a floor of 100 mm is 78.54 cm2, of which round holes can take
    pi / (2 sqrt 3)."""
    path, _ = _edit(POT, "count = 160", 1, "count = 16000", tmp_path)
    with pytest.raises(FileError) as caught:
        read_habitat(path)
    (found,) = [e for e in caught.value.errors if "together exceed the grid" in e.message]
    assert found.found == "181 cm2"
    assert found.allowed == "at most 71.23 cm2 of round holes in 78.54 cm2 of grid"


def test_a_mesh_that_cannot_be_woven_tells_both_sizes(tmp_path: Path) -> None:
    path = tmp_path / "edited.toml"
    text = (Path(__file__).parents[2] / "examples/workshop/habitats/three-pot.toml").read_text()
    path.write_text(text.replace('wire = "0.16 mm"', 'wire = "0.35 mm"', 1))
    with pytest.raises(FileError) as caught:
        read_habitat(path)
    (found,) = caught.value.errors
    # pitch of the densest plain weave: sqrt(3) wires; 0.25 mm / (sqrt(3) - 1) = 0.3415 mm
    assert (found.found, found.allowed) == ("0.35 mm", "at most 0.3415 mm at an aperture of 0.25 mm")
    path.write_text(text.replace('wire = "0.16 mm"', 'wire = "0.34 mm"', 1))
    read_habitat(path)


def test_the_line_is_that_of_the_key_itself(tmp_path: Path) -> None:
    for name, old, new in [(POT, 'height = "60 mm"', 'height = "75 mm"'), (POT, "count = 160", "cuont = 160")]:
        path, line = _edit(name, old, 1, new, tmp_path)
        with pytest.raises(FileError) as caught:
            read_habitat(path)
        assert next(e.line for e in caught.value.errors if e.found or e.nearest) == line


def test_all_faults_are_listed_at_once_in_the_order_of_the_file(tmp_path: Path) -> None:
    text = (FOLDER / f"{POT}.toml").read_text()
    text = text.replace('height = "70 mm"', 'height = "-70 mm"').replace("count = 6", "cuont = 6")
    path = tmp_path / "two.toml"
    path.write_text(text.replace('lag = "90 s"', 'lag = "90"'))
    with pytest.raises(FileError) as caught:
        read_habitat(path)
    told = str(caught.value).splitlines()
    assert len(told) == 3
    numbers = [int(line.split(":")[1]) for line in told]
    assert numbers == sorted(numbers)


def _with(name: str, tmp_path: Path, *edits: tuple[str, str]) -> Path:
    text = (FOLDER / f"{name}.toml").read_text()
    for old, new in edits:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "changed.toml"
    path.write_text(text)
    return path


def test_a_chamber_without_any_air_exchange(tmp_path: Path) -> None:
    """The lid and the six holes closed: pot and sump still share a grid, but no air comes in."""
    path = _with(
        POT,
        tmp_path,
        ('lid_gap = "0.05 mm"', 'lid_gap = "0 mm"'),
        ("count = 6", 'count = 6\n[[plug]]\ncloses = "crown"'),
    )
    found = [f for f in check_file(path) if f.severity == "error"]
    assert [f.field for f in found] == ["chamber.pot", "chamber.sump"]
    assert all("no air exchange" in f.message for f in found)


def test_an_unconnected_chamber(tmp_path: Path) -> None:
    text = (FOLDER / f"{ROW}.toml").read_text()
    alone = '[[chamber]]\nname = "alone"\nrole = "nursery"\nshape = "cylinder"\ndiameter = "40 mm"\nheight = "30 mm"\n'
    alone += 'place = ["0 mm", "400 mm", "3 mm"]\nlayers = ["3 mm acrylic"]\n'
    path = tmp_path / "alone.toml"
    path.write_text(text + alone)
    (found,) = [f for f in check_file(path) if f.severity == "error"]
    assert found.field == "chamber.alone"
    assert "unconnected" in found.message
    assert found.line == len(text.splitlines()) + 1


def test_a_box_bell_must_fit_into_a_round_chamber_by_its_diagonal(tmp_path: Path) -> None:
    # A square of 66 mm outside has a diagonal of 93.3 mm, one of 74 mm has 104.7 mm; the pot is 100 mm wide.
    for side, fits in (("62 mm", True), ("70 mm", False)):
        new = f'shape = "box"\nwidth = "{side}"\ndepth = "{side}"\nheight = "50 mm"\nlayers = ["2 mm acrylic"]'
        old = 'shape = "cylinder"\ndiameter = "70 mm"\nheight = "50 mm"\nlayers = ["2 mm acrylic"]'
        errors = [f for f in check_file(_with(POT, tmp_path, (old, new))) if f.severity == "error"]
        assert (errors == []) is fits


def test_a_round_chamber_clears_the_corner_that_a_box_would_hit(tmp_path: Path) -> None:
    """Cylinders are judged by distance: at the diagonal two of 100 mm stand apart where two boxes would overlap."""
    text = (FOLDER / f"{POT}.toml").read_text()
    other = '[[chamber]]\nname = "other"\nrole = "nursery"\n{shape}\nheight = "30 mm"\n'
    other += 'place = ["80 mm", "80 mm", "3 mm"]\nlayers = ["3 mm acrylic"]\nlid_gap = "0.1 mm"\n'
    path = tmp_path / "two.toml"
    for shape, apart in (
        ('shape = "cylinder"\ndiameter = "100 mm"', True),
        ('shape = "box"\nwidth = "100 mm"\ndepth = "100 mm"', False),
    ):
        path.write_text(text + other.format(shape=shape))
        assert any("overlaps" in f.message for f in check_file(path)) is not apart


def test_a_wall_told_twice_and_differently(tmp_path: Path) -> None:
    edit = (
        '[chamber.base]\ntouches = "bench"',
        '[chamber.base]\ntouches = "bench"\n[chamber.top]\nlayers = ["5 mm glass"]',
    )
    errors = [f for f in check_file(_with(POT, tmp_path, edit)) if f.severity == "error"]
    assert any("told twice" in f.message for f in errors)


def test_cautions_do_not_fail() -> None:
    for path in FOLDER.glob("*.toml"):
        habitat = read_habitat(path)
        assert {f.severity for f in check_habitat(habitat)} <= {"warning"}
    wet = [f for f in check_file(FOLDER / f"{CASE}.toml") if f.message == WATER_CAUTION]
    assert "heater.tray warmer.where" in {f.field for f in wet}


def test_food_and_waste_on_the_same_side_is_a_warning(tmp_path: Path) -> None:
    path = _with(
        ROW,
        tmp_path,
        ('place = ["200 mm", "0 mm", "3 mm"]', 'place = ["-200 mm", "300 mm", "3 mm"]'),
        ('length = "82 mm"', 'length = "600 mm"'),
    )
    found = check_file(path)
    assert [f for f in found if f.severity == "error"] == []
    assert any("opposite sides" in f.message and f.field == "chamber.dump.place" for f in found)


def test_a_dump_without_a_vent_of_its_own_is_a_warning(tmp_path: Path) -> None:
    text = (FOLDER / f"{ROW}.toml").read_text()
    start = text.index('[[vent]]\nname = "chimney"')
    path = tmp_path / "closed.toml"
    path.write_text(text[:start] + text[text.index("[[passage]]") :])
    found = check_file(path)
    assert [(f.severity, f.field) for f in found] == [("warning", "chamber.dump")]
