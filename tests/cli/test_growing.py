"""`nestwright climate --forecast`: the file that it reads, and the words, ranges and warnings that it prints."""

import copy
import json
import math
import re
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from invented_colony import told

from nestwright.cli.demo import HABITAT
from nestwright.cli.growing import prove_forecast, read_courses
from nestwright.cli.growing_text import headline, print_growing
from nestwright.cli.output import as_json
from nestwright.climate.growing import Break, Deciding, GrowingCase, GrowingPoint, GrowingProof, Growth
from nestwright.errors import InputError
from nestwright.workshop.example import example_workshop

GOOD = as_json(told().to_dict())
ALLOWED = "the JSON of `nestwright forecast COLONY --json`"


def written(tmp_path, change=None):
    document = copy.deepcopy(GOOD)
    if change:
        change(document)
    path = tmp_path / "f.json"
    path.write_text(json.dumps(document))
    return path


def test_the_courses_are_the_bands_of_the_forecast(tmp_path):
    species, start, courses = read_courses(written(tmp_path))
    assert species == GOOD["fit"]["species"]
    assert start.isoformat() == GOOD["fit"]["start"]
    assert list(courses) == ["low", "middle", "high"]
    for name, one in courses.items():
        assert one.day.tolist() == GOOD["bands"]["garden"]["day"]
        assert one.volume * 1e6 == pytest.approx(GOOD["bands"]["garden"][name])
        assert one.workers == pytest.approx(GOOD["bands"]["workers"][name])


def put(*keys):
    """A change of the document: the last of `keys` is put at the place that the others name."""
    *path, last, value = keys

    def change(document):
        for key in path:
            document = document[key]
        document[last] = value

    return change


def cut(*keys):
    *path, last = keys

    def change(document):
        for key in path:
            document = document[key]
        del document[last]

    return change


def last_day_cut(document):
    for band in document["bands"].values():
        for key in ("day", "low", "middle", "high"):
            band[key].pop()


@pytest.mark.parametrize(
    ("change", "field", "found"),
    [
        (last_day_cut, "bands.garden.day", "90 days"),
        (cut("bands", "garden", "day", 5), "bands.garden.day", "46 at place 6"),
        (put("bands", "garden", "day", 5, 44), "bands.garden.day", "44 at place 6"),
        (cut("bands", "garden", "low", -1), "bands.garden.low", "90 values"),
        (cut("bands", "workers", "high", 0), "bands.workers.high", "90 values"),
        (put("bands", "garden", "high", []), "bands.garden.high", "a list of 0"),
        (put("bands", "garden", "high", 3, math.nan), "bands.garden.high", "NaN at place 4"),
        (put("bands", "garden", "high", 3, math.inf), "bands.garden.high", "Infinity at place 4"),
        (put("bands", "garden", "high", 3, None), "bands.garden.high", "null at place 4"),
        (put("bands", "garden", "high", 3, True), "bands.garden.high", "true at place 4"),
        (put("bands", "garden", "high", 3, "60"), "bands.garden.high", '"60" at place 4'),
        (put("bands", "garden", "high", 3, 10**400), "bands.garden.high", "too many digits at place 4"),
        (put("bands", "workers", "low", 3, -1.0), "bands.workers.low", "-1.0 at place 4"),
        (put("bands", "garden", "high", 3, 1.0), "bands.garden.middle", "at place 4"),
        (put("bands", "garden", "unit", "L"), "bands.garden.unit", '"L"'),
        (cut("bands", "garden", "high"), "bands.garden.high", "'unit', 'day'"),
        (cut("bands", "workers"), "bands.workers", "'garden'"),
        (cut("bands"), "bands", "'fit'"),
        (put("bands", [1]), "bands", "a list of 1"),
        (cut("fit", "species"), "fit.species", "'colony'"),
        (put("fit", "species", 3), "fit.species", "3"),
        (put("fit", "start", "x"), "fit.start", '"x"'),
        (put("fit", "start", "9999-12-31"), "fit.start", '"9999-12-31"'),
        (put("fit", "days", 1.5), "fit.days", "1.5"),
        (put("horizon_days", math.nan), "horizon_days", "NaN"),
        (cut("horizon_days"), "horizon_days", "'fit'"),
    ],
)
def test_a_forecast_that_is_cut_or_out_of_order_is_refused(tmp_path, change, field, found):
    path = written(tmp_path, change)
    with pytest.raises(InputError) as refused:
        read_courses(path)
    assert refused.value.file == str(path)
    assert refused.value.field == field
    assert found in refused.value.found
    assert refused.value.allowed


@pytest.mark.parametrize(
    ("text", "line", "found"),
    [
        (b"", 1, "an empty file"),
        (b"hello\nworld", 1, "'hello'"),
        (b'{"a":\n 1,\n', 3, "the end of the file"),
        (b'{"a": 1}\nrest', 2, "'rest'"),
        (b"\xff\xfe\x00", 0, ""),
        (b"[" * 100_000, 0, ""),
    ],
)
def test_a_file_that_is_no_json_says_so_and_where(tmp_path, text, line, found):
    path = tmp_path / "f.json"
    path.write_bytes(text)
    with pytest.raises(InputError, match="no JSON") as refused:
        read_courses(path)
    assert (refused.value.line, refused.value.found, refused.value.allowed) == (line, found, ALLOWED)
    assert "Expecting" not in str(refused.value)


def test_a_folder_and_a_missing_file_are_refused(tmp_path):
    for path in (tmp_path, tmp_path / "none.json"):
        with pytest.raises(InputError) as refused:
            read_courses(path)
        assert refused.value.allowed == ALLOWED


DAYS = np.arange(0.0, 31.0)
DRIP = "pot: drip on the garden"


def point(day, *, held=True, sure=True, margin=0.4, limit=DRIP, co2=0.02, water=1e-8, refill=20 * 86400.0):
    decides = Deciding(limit, margin, margin if sure else -2.0, margin if sure else 0.6, held, sure, ("grid",))
    failed = () if held else (limit,)
    return GrowingPoint(
        day, 1e-4, 200.0, margin, limit, failed, sure, co2, 0.01, 0.05, water, refill, 0.0, decides
    )  # fmt: skip


def case(name, *points, **ends):
    return GrowingCase(name, points, None, ends.get("outgrown"), ends.get("gone"))


def proof(low, middle, high, **changed):
    courses = {
        name: Growth(DAYS, np.full(31, size * 1e-6), np.full(31, 9.0))
        for name, size in (("low", 80), ("middle", 100), ("high", 130))
    }
    values = {"looked": (0.0, 15.0, 30.0), "courses": courses, "start": date(2031, 1, 1)} | changed
    return GrowingProof(
        habitat="Pot", revision="1", species="none", room="room", chamber="pot", space=4e-4, bell=True,
        cases=(low, middle, high), **values,
    )  # fmt: skip


def steady(name, **changed):
    return case(name, *(point(day, **changed) for day in (0.0, 15.0, 30.0)))


def said(made):
    return " / ".join(f"{word} {rest}" for word, rest in headline(made))


def shown(made, capsys):
    print_growing(made)
    return re.sub(r"\s+", " ", capsys.readouterr().out)


def test_a_headline_holds_only_where_every_row_holds():
    assert said(proof(*map(steady, ("low", "middle", "high")))).startswith("Holds through 2031-01-31 in every course.")


def test_a_headline_is_not_surer_than_the_rows(capsys):
    """It said "holds through" above rows that said "not sure"."""
    turned = case("middle", point(0.0), point(11.0, sure=False), point(15.0, sure=False), point(30.0, sure=False))
    made = proof(steady("low"), turned, steady("high", sure=False))
    assert said(made) == (
        "Holds, not sure, from 2031-01-01 (high), 2031-01-12 (middle) on, not in the low course. "
        f"At worst: {DRIP}, margin +0.4 (-2.0 to +0.6) tolerances on 2031-01-12, middle course."
    )
    text = shown(made, capsys)
    assert f"middle 2031-01-01 holds {DRIP} +0.4 2031-01-12 holds, not sure {DRIP} +0.4 (-2.0 to +0.6)" in text
    assert "2031-01-16 100 (80 to 130) +0.4 holds, not sure" in text
    assert "holds through" not in text.lower()


def test_the_worst_of_all_rows_is_told():
    failing = [point(0.0), point(15.0, held=False, sure=False, margin=-0.2), point(30.0, held=False, margin=-3.0)]
    made = proof(steady("low"), steady("middle", sure=False), case("high", *failing))
    assert said(made).startswith("Fails from 2031-01-31 (high) on, not in the low and middle course. At worst: ")
    assert "margin -3.0 tolerances on 2031-01-31, high course" in said(made)


def test_what_growth_breaks_is_told_beside_what_fails_at_first():
    """The verdict is "fails" on all days, and growth makes it worse by another limit."""
    damp = steady("low", held=False, margin=-1.0, limit="dump: humidity")
    gas = Break(11.0, "pot: CO2", 10.0, 1.23e-4, 300.0, ())
    middle, high = (
        replace(damp, name=name, broken=replace(gas, day=day)) for name, day in (("middle", 11.0), ("high", 8.0))
    )
    text = said(proof(damp, middle, high))
    assert "Fails already on the first day: dump: humidity. / " in text
    assert "Growth breaks pot: CO2 on 2031-01-09 (high, 120 mL), 2031-01-12 (middle, 120 mL)." in text
    assert "No other limit breaks by growth." in said(proof(damp, *(replace(damp, name=n) for n in ("middle", "high"))))


def test_what_growth_breaks_is_no_surer_than_its_row():
    day = point(15.0, held=False, sure=False, margin=-0.1)
    broken = Break(15.0, DRIP, 14.0, 1e-4, 300.0, ())
    middle = replace(case("middle", point(0.0), day, replace(day, day=30.0)), broken=broken)
    assert f"Growth breaks, not sure, {DRIP} on 2031-01-16" in said(proof(steady("low"), middle, steady("high")))


def test_what_does_not_stay_is_not_said_to_stay():
    passing = case("middle", point(0.0), point(15.0, sure=False), point(30.0))
    text = said(proof(steady("low"), passing, steady("high")))
    assert text.startswith("Holds, not sure, first on 2031-01-16 (middle), not in the low and high course.")


def test_a_garden_that_never_fits_is_told_with_both_sizes(capsys):
    courses = {name: Growth(DAYS, np.full(31, 5e-4), np.full(31, 9.0)) for name in ("low", "middle", "high")}
    made = proof(*(case(name, outgrown=0.0) for name in courses), courses=courses)
    assert said(made).startswith("The garden does not fit. The forecast begins with 500 mL, which do not go under the")
    text = shown(made, capsys)
    assert "(400 mL): nothing is proved" in text
    assert "does not fit" in text
    assert "Air and water" not in text
    assert "holds" not in text


def test_a_course_that_outgrows_leaves_its_end_of_the_range_open(capsys):
    """Nothing is known of CO2 and water where the large garden does not fit; the range must not end at the small."""
    low = case("low", point(0.0), point(15.0, co2=0.02, water=3e-8), point(30.0))
    middle = case("middle", point(0.0), point(15.0, co2=0.03, water=2e-8), outgrown=30.0)
    made = proof(low, middle, case("high", point(0.0), outgrown=12.0))
    text = shown(made, capsys)
    assert said(made).endswith(
        "The garden no longer fits under the bell (400 mL) from 2031-01-13 (high), 2031-01-31 (middle) on, "
        "not in the low course: nothing is proved from then."
    )
    assert "2031-01-16 3.0 (2.0 to ?) 1.7 (? to 2.6) 20 (?)" in text  # 2e-8 and 3e-8 kg/s are 1.728 and 2.592 g/day
    assert "2031-01-31 low 2.0 low 0.86 low 20" in text


def test_a_garden_that_is_gone_leaves_the_low_end_open(capsys):
    low = case("low", point(0.0), gone=12.0)
    made = proof(low, steady("middle", co2=0.03), steady("high", co2=0.04))
    assert "No garden is left from 2031-01-13 (low) on" in said(made)
    assert said(made).startswith("Holds as long as there is a garden.")
    assert "2031-01-16 3.0 (? to 4.0)" in shown(made, capsys)


def test_every_figure_has_the_range_of_the_courses_and_says_what_it_is(capsys):
    made = proof(
        steady("low", co2=0.018, water=-1e-9, refill=30 * 86400.0),
        steady("middle", co2=0.021, water=2e-9, refill=25 * 86400.0),
        steady("high", co2=0.027, water=5e-9, refill=19 * 86400.0),
    )
    text = shown(made, capsys)
    # -1e-9, 2e-9 and 5e-9 kg/s are -0.086, 0.17 and 0.43 g/day
    assert "2031-01-16 2.1 (1.8 to 2.7) 0.17 (-0.09 to 0.43) 25 (19 to 30)" in text
    assert "The range is the garden's alone." in text
    # the uncertainty of the proof, 1 to 5 %, stands beside it: half-width 2 leaves a decimal
    assert "the proof's own uncertainty: of CO2, middle course, 1.0 to 5.0 % on 2031-01-01 and" in text
    assert "Of water and refill the proof's own uncertainty is not worked out." in text


def test_a_refill_beyond_a_year_is_no_figure(capsys):
    made = proof(*(steady(name, refill=900 * 86400.0) for name in ("low", "middle", "high")))
    assert "over a year" in shown(made, capsys)
    made = proof(*(steady(name, refill=None) for name in ("low", "middle", "high")))
    assert "never" in shown(made, capsys)


def test_another_species_is_told_under_the_headline(tmp_path, capsys):
    from nestwright.climate.rooms import read_room
    from nestwright.habitat.file import read_habitat

    habitat = read_habitat(example_workshop() / HABITAT)

    def short(document, species="Acromyrmex octospinosus"):
        document["horizon_days"] = 1
        document["fit"]["species"] = species
        for band in document["bands"].values():
            for key in ("day", "low", "middle", "high"):
                band[key] = band[key][:2]

    air = read_room("21 degC, 45 %")
    made = prove_forecast(habitat, air, written(tmp_path, short))
    assert made.to_dict()["warnings"] == list(made.warnings)
    print_growing(replace(made, notes=("a note",)))
    text = capsys.readouterr().out
    spot = text.index("Warning: the forecast is of Acromyrmex octospinosus")
    assert habitat.species in text[spot:]
    assert text.index("At worst:" if "At worst:" in text else "The first limit to go:") < spot
    assert spot < text.index("What becomes of it") < text.index("Note: a note")
    same = prove_forecast(habitat, air, written(tmp_path, lambda d: short(d, habitat.species)))
    assert same.warnings == ()
