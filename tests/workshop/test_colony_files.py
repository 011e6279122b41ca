"""A colony file taken into the record is the same colony for the growth model as the file itself."""

import dataclasses
import tempfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from workshops import EXAMPLES, do, fresh, record

from nestwright.colony.file import read_colony
from nestwright.colony.form import EVENTS
from nestwright.errors import InputError
from nestwright.workshop.colonies import Kept, add_colony, find_colony, kept_colonies, model_colony
from nestwright.workshop.colony_files import add_colony_file
from nestwright.workshop.database import reading


def plain(colony):
    """All that the model takes, without lines, remarks and paths; what happened on one day in any order."""

    def row(one):
        return dataclasses.astuple(dataclasses.replace(one, **({"line": 0} if hasattr(one, "line") else {})))

    made = {f.name: getattr(colony, f.name) for f in dataclasses.fields(colony)}
    for gone in ("notes", "path", "climate"):
        made.pop(gone)
    for parts in ("observations", "events", "housing"):
        made[parts] = sorted((row(one) for one in made[parts]), key=lambda r: tuple(map(str, r)))
    made["at_start"] = dataclasses.astuple(made["at_start"])
    return made


def close(a, b):
    if isinstance(a, float) or isinstance(b, float):
        return a == pytest.approx(b, rel=1e-9, abs=1e-300)
    if isinstance(a, tuple | list):
        return len(a) == len(b) and all(close(x, y) for x, y in zip(a, b, strict=True))
    return a == b


def same(file, colony):
    one, other = plain(read_colony(file)), plain(colony)
    for key, value in one.items():
        assert close(value, other[key]), (key, value, other[key])


def taken_in(shop, file, name=""):
    row = do(shop, "colony", lambda done: add_colony_file(done, file, name))
    with reading(shop.engine) as connection:
        kept = next(k for k in kept_colonies(connection) if k.id == row)
        return model_colony(connection, kept)


@pytest.mark.parametrize("file", sorted((EXAMPLES / "colonies").glob("*.toml")), ids=lambda p: p.stem)
def test_the_examples(shop, file):
    same(file, taken_in(shop, file))


amounts = st.floats(0.5, 900.0).map(lambda x: float(f"{x:.5g}"))
volumes = st.tuples(amounts, st.sampled_from(["mL", "cm3"])).map(lambda v: f"{v[0]} {v[1]}") | st.just("0.123 L")
shares = st.floats(0.2, 100).map(lambda x: f"{x:.4g} %")
counts = st.one_of(
    st.integers(0, 9000),
    st.integers(1, 9000).map("about {}".format),
    st.integers(1, 400).map(lambda n: f"{n} to {3 * n}"),
)
leaves = st.tuples(amounts, st.sampled_from(["g", "cm2", "mg"])).map(lambda v: f"{v[0]} {v[1]}")
texts = st.text(st.characters(exclude_categories=["Cc", "Cf", "Cs", "Zl", "Zp"]), max_size=15)
days = st.integers(0, 200).map(lambda n: np.datetime_as_string(np.datetime64("2024-03-01") + n))
AMOUNTS = {
    "garden added": volumes,
    "garden taken": volumes | shares,
    "garden lost": volumes | shares | st.none(),
    "workers added": counts,
    "workers taken": counts,
    "workers lost": counts,
    "eggs added": counts,
    "larvae added": counts,
    "pupae added": counts,
    "brood lost": shares | st.none(),
    "queen lost": st.none(),
    "queen laying": shares | st.none(),
    "leaves given": leaves,
    "bell": volumes,
}


def written(value):
    return str(value) if isinstance(value, int) else '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'


@st.composite
def files(draw):
    """The text of a colony file with anything in it that a file may have."""
    lines = ["format = 1", 'name = "Fern"', 'species = "Acromyrmex echinatior"', "start = 2024-03-01"]
    top = {"leaves": draw(st.sampled_from(["free", "recorded"])), "note": draw(texts)}
    lines += [f"{k} = {written(v)}" for k, v in top.items()]
    lines += ["end = 2024-12-31"] if draw(st.booleans()) else []
    lines += ["[queen]", f'state = "{draw(st.sampled_from(["laying", "unknown", "none"]))}"']

    def table(head, keys, **always):
        lines.append(head)
        lines.extend(f"{k} = {v}" for k, v in always.items())
        for key, strategy in keys.items():
            value = draw(st.one_of(st.none(), strategy))
            if value is not None:
                lines.append(f"{key} = {written(value)}")

    table("[arrival]", {"garden": volumes, "garden_error": shares, "workers": counts, "brood": counts})
    lengths = st.integers(10, 900).map("{} mm".format)
    waits = st.integers(1, 60).map("{} day".format)
    house = {"opening": lengths, "lid": lengths, "headroom": lengths, "making_time": waits, "chamber_time": waits}
    table("[housing]", house, chamber='"2.4 L"')
    for day in draw(st.lists(days, max_size=2, unique=True)):
        table("[[bell]]", {"name": texts}, **{"from": day, "usable": written(draw(volumes))})
    bells = set()
    for day in draw(st.lists(days, max_size=5)):
        keys = {"workers": counts, "leaves_taken": leaves, "waste": amounts.map("{} g".format), "note": texts}
        measure = draw(st.sampled_from(["garden", "fill", ""]))
        if measure:
            keys |= {measure: volumes if measure == "garden" else shares}
        stages = draw(st.lists(st.sampled_from(["eggs", "larvae", "pupae"]), unique=True))
        cut = draw(st.integers(0, len(stages)))
        always = {"date": day, "seen": str(stages[:cut]), "not_seen": str(stages[cut:])}
        if draw(st.booleans()):
            always |= {"leaves": written(draw(leaves)), "plant": written(draw(texts))}
        table("[[visit]]", keys, **always)
    for day in draw(st.lists(days, max_size=5)):
        what = draw(st.sampled_from(EVENTS))
        if what == "bell" and day in bells:
            continue
        bells |= {day} if what == "bell" else set()
        amount = draw(AMOUNTS[what])
        always = {"date": day, "what": written(what)} | ({} if amount is None else {"amount": written(amount)})
        table("[[event]]", {"note": texts} | ({"plant": texts} if what == "leaves given" else {}), **always)
    return "\n".join(lines) + "\n"


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(files())
def test_any_file(text):
    with tempfile.TemporaryDirectory() as place:
        file = Path(place) / "fern.toml"
        file.write_text(text)
        shop = fresh(Path(place) / "shop")
        try:
            read_colony(file)
        except InputError:  # as two bells from one day on: refused as the file is
            before = record(shop)
            with pytest.raises(InputError):
                taken_in(shop, file)
            assert record(shop) == before
            return
        same(file, taken_in(shop, file))


def test_a_file_under_another_name(shop):
    file = EXAMPLES / "colonies/thistle.toml"
    taken_in(shop, file)
    with pytest.raises(InputError, match="already"):
        taken_in(shop, file)
    assert taken_in(shop, file, "Thistle two").name == "Thistle two"


@pytest.mark.parametrize("name", ["a/b", "..\\x", ".hidden", "-v", "~me", "fern.toml", "FERN.CSV"])
def test_a_name_that_a_file_could_have_is_refused(shop, name):
    with pytest.raises(InputError, match="taken for a file"):
        do(shop, "colony", lambda done: add_colony(done, {"name": name, "species": "x", "start": "2024-03-01"}))


def test_names_are_found_whatever_their_case_and_never_twice(shop):
    values = {"species": "Acromyrmex echinatior", "start": "2024-03-01"}
    do(shop, "colony", lambda done: add_colony(done, {"name": "Élan", **values}))
    with reading(shop.engine) as connection:
        for name in ("Élan", "élan", "E\u0301lan", "ÉLAN"):
            assert isinstance(find_colony(connection, name), Kept)
        with pytest.raises(InputError, match="did you mean 'Élan'"):
            find_colony(connection, "Elan")
        with pytest.raises(InputError) as caught:
            find_colony(connection, "x" * 10_000)
    assert len(str(caught.value)) < 300
    for name in ("élan", "E\u0301lan"):
        with pytest.raises(InputError, match="already"):
            do(shop, "colony", lambda done, name=name: add_colony(done, {"name": name, **values}))
