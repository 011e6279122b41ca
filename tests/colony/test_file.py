"""The colony file: what is read from it, and that whatever is wrong with it is told with its place."""

import math
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from colony_files import HEAD, colony, fault, tells, written

from nestwright.colony.file import colony_from_dict, read_colony
from nestwright.colony.model import Colony, Observation
from nestwright.data import colony_values
from nestwright.errors import FileError, InputError

BELLS = """
[[bell]]
from = 2025-11-03
name = "first"
usable = "60 mL"
[[bell]]
from = 2025-12-01
name = "second"
usable = "150 mL"
"""


def default(name: str) -> float:
    return colony_values()[name].value


def visit(text: str, extra: str = "") -> Colony:
    return colony(f"{extra}\n[[visit]]\ndate = 2025-11-10\n{text}\n")


def only(found: Colony, kind: str) -> Observation:
    (one,) = [o for o in found.observations if o.kind == kind]
    return one


# What is read


def test_a_record_of_nothing_is_a_colony() -> None:
    found = colony("")
    assert found.days == 0
    assert found.observations == found.events == found.housing == found.notes == ()
    assert found.queen == 1.0
    assert found.at_start.garden is found.at_start.workers is found.at_start.brood is None


def test_head_and_tables_are_read() -> None:
    found = colony(
        """
end = 2026-03-03
leaves = "recorded"
climate = "climate.csv"
[queen]
state = "unknown"
[arrival]
garden = "30 mL"
garden_error = "20 %"
workers = "about 60"
brood = 40
[housing]
chamber = "1.8 L"
opening = "95 mm"
lid = "140 mm"
headroom = "12 cm"
making_time = "9 day"
chamber_time = "3 week"
"""
    )
    assert (found.start, found.days) == (date(2025, 11, 3), 120)
    assert found.queen is None
    assert found.leaves == "recorded"
    assert found.climate_file == "climate.csv"
    assert found.at_start.garden == pytest.approx((30.0, 0.2))
    assert found.at_start.workers == (60.0, default("guess_error"))
    assert found.at_start.brood == (40.0, default("exact_error"))
    assert (found.chamber, found.opening, found.lid, found.headroom) == pytest.approx((1800, 0.095, 0.14, 0.12))
    assert (found.making_time, found.chamber_time) == (9.0, 21.0)
    # A known chamber and no bell: the garden has the whole chamber.
    assert [(e.day, e.kind, e.value) for e in found.events] == [(0.0, "room", 1800.0)]


def test_every_thing_seen_at_a_visit_is_an_observation() -> None:
    found = visit(
        'garden = "32 mL"\nworkers = 80\nseen = ["eggs", "larvae"]\nnot_seen = ["pupae"]\nwaste = "1.2 g"\n'
        'leaves_taken = "2 g"'
    )
    assert {(o.kind, o.day) for o in found.observations} == {
        (kind, 7.0) for kind in ("garden", "workers", "eggs", "larvae", "pupae", "waste", "leaves_taken")
    }
    assert only(found, "garden") == Observation(7.0, "garden", 32.0, default("garden_error"), 0.0, "measured")
    assert (only(found, "eggs").value, only(found, "pupae").value) == (1.0, 0.0)
    assert only(found, "waste").value == pytest.approx(1.2 * default("waste_dry_share"))
    assert only(found, "waste").error == default("waste_error")
    assert only(found, "leaves_taken").value == pytest.approx(2 * default("leaf_dry_share"))
    assert only(found, "leaves_taken").error == default("leaf_error")


def test_a_band_has_its_geometric_middle_and_the_spread_of_an_even_logarithm() -> None:
    seen = only(visit('workers = "50 to 80"'), "workers")
    assert seen.value == pytest.approx(math.sqrt(50 * 80))
    # Standard deviation of a uniform distribution of width w is w / sqrt(12); a count's own error comes on top.
    assert seen.error == pytest.approx(math.hypot(math.log(80 / 50) / math.sqrt(12), default("exact_error")))
    assert seen.how == "band"


def test_lines_are_kept(tmp_path: Path) -> None:
    text = '[[visit]]\ndate = 2025-11-10\nworkers = 3\n[[event]]\ndate = 2025-11-11\nwhat = "queen lost"\n'
    path = written(tmp_path, text)
    found = read_colony(path)
    assert found.observations[0].line == 7
    assert found.events[0].line == 10
    assert found.path == str(path)


def test_leaves_are_given_as_dry_matter_by_mass_or_by_area() -> None:
    found = colony(
        '[[visit]]\ndate = 2025-11-10\nleaves = "3 g"\nplant = "bramble"\n'
        '[[event]]\ndate = 2025-11-12\nwhat = "leaves given"\namount = "40 cm2"\nplant = "a plant nobody knows"\n'
    )
    assert [(e.day, e.kind, e.plant) for e in found.events] == [
        (7.0, "leaves", "bramble"),
        (9.0, "leaves", "a plant nobody knows"),
    ]
    assert found.events[0].value == pytest.approx(3 * default("leaf_dry_share"))
    assert found.events[1].value == pytest.approx(40 * default("leaf_dry_area"))


def test_waste_counts_since_waste_was_last_taken_and_leaves_since_they_were_last_given() -> None:
    found = colony(
        """
[[visit]]
date = 2025-11-05
waste = "1 g"
[[visit]]
date = 2025-11-08
leaves = "3 g"
[[visit]]
date = 2025-11-10
waste = "1 g"
leaves_taken = "2 g"
"""
    )
    assert [(o.day, o.since) for o in found.observations if o.kind == "waste"] == [(2.0, 0.0), (7.0, 2.0)]
    assert only(found, "leaves_taken").since == 5.0


def test_waste_of_the_first_day_is_not_a_rate() -> None:
    found = colony('[[visit]]\ndate = 2025-11-03\nwaste = "5 g"\n[[visit]]\ndate = 2025-11-06\nwaste = "1 g"\n')
    assert only(found, "waste").day == 3.0
    assert "first day" in found.notes[0]


@pytest.mark.parametrize(
    ("what", "amount", "kind", "value"),
    [
        ("garden added", "20 mL", "garden_added", 20.0),
        ("garden taken", "20 mL", "garden_taken", 20.0),
        ("garden taken", "30 %", "garden_share_lost", 0.3),
        ("garden lost", "30 %", "garden_share_lost", 0.3),
        ("garden lost", None, "garden_share_lost", 1.0),
        ("workers added", 25, "workers_added", 25.0),
        ("workers taken", "25", "workers_taken", 25.0),
        ("workers lost", "about 25", "workers_taken", 25.0),
        ("eggs added", 5, "eggs_added", 5.0),
        ("larvae added", 5, "larvae_added", 5.0),
        ("pupae added", 5, "pupae_added", 5.0),
        ("brood lost", "50 %", "brood_share_lost", 0.5),
        ("brood lost", None, "brood_share_lost", 1.0),
        ("queen lost", None, "queen", 0.0),
        ("queen laying", None, "queen", 1.0),
        ("queen laying", "40 %", "queen", 0.4),
        ("bell", "150 mL", "room", 150.0),
    ],
)
def test_each_event(what: str, amount: Any, kind: str, value: float) -> None:
    event = {"date": date(2025, 11, 20), "what": what} | ({} if amount is None else {"amount": amount})
    found = colony_from_dict(tomllib.loads(HEAD) | {"event": [event]})
    assert [(e.day, e.kind) for e in found.events] == [(17.0, kind)]
    assert found.events[0].value == pytest.approx(value)


# Bells


def test_bells_become_room_events_in_order_of_days() -> None:
    swapped = BELLS.replace("2025-11-03", "2026-01-01", 1)
    found = colony(swapped)
    assert [(h.day, h.name) for h in found.housing] == [(28.0, "second"), (59.0, "first")]
    assert [(e.day, e.kind, e.value) for e in found.events] == [(28.0, "room", 150.0), (59.0, "room", 60.0)]


def test_a_bell_from_before_the_record_stands_on_its_first_day() -> None:
    found = colony('[[bell]]\nfrom = 2025-06-01\nusable = "9 mL"\n[[bell]]\nfrom = 2025-09-01\nusable = "60 mL"\n')
    assert [(h.day, h.usable) for h in found.housing] == [(0.0, pytest.approx(60.0))]


def test_the_whole_chamber_without_a_bell() -> None:
    found = colony('[housing]\nchamber = "1.8 L"\n' + BELLS + '[[bell]]\nfrom = 2026-02-01\nkind = "chamber"\n')
    assert [(h.kind, h.usable) for h in found.housing] == [("bell", 60.0), ("bell", 150.0), ("chamber", 1800.0)]


def test_a_fill_on_the_day_of_a_bell_change_counts_against_the_bell_before() -> None:
    found = colony(BELLS + '[[visit]]\ndate = 2025-12-01\nfill = "80 %"\n')
    seen = only(found, "garden")
    assert seen.value == pytest.approx(0.8 * 60)
    assert (seen.how, seen.error) == ("fill", default("fill_error"))
    assert "against 'first'" in found.notes[0]


def test_a_fill_after_the_change_counts_against_the_new_bell() -> None:
    found = colony(BELLS + '[[visit]]\ndate = 2025-12-02\nfill = "80 %"\ngarden_error = "10 %"\n')
    assert only(found, "garden").value == pytest.approx(0.8 * 150)
    assert only(found, "garden").error == pytest.approx(0.1)
    assert found.notes == ()


def test_a_fill_under_the_first_bell_on_its_first_day() -> None:
    found = colony(BELLS + '[[visit]]\ndate = 2025-11-03\nfill = "50 %"\n')
    assert only(found, "garden").value == pytest.approx(30)


# Contradictions


def test_counts_that_disagree_are_both_kept_with_half_their_log_distance() -> None:
    found = colony(2 * "[[visit]]\ndate = 2025-11-10\nworkers = {}\n".replace("{}", "%d") % (80, 300))
    assert [o.value for o in found.observations] == [80.0, 300.0]
    assert [o.error for o in found.observations] == pytest.approx([math.log(300 / 80) / 2] * 2)
    assert "further apart" in found.notes[0]
    assert "2025-11-10" in found.notes[0]


def test_counts_that_agree_within_their_errors_keep_them() -> None:
    found = colony('[[visit]]\ndate = 2025-11-10\nworkers = "about 80"\n[[visit]]\ndate = 2025-11-10\nworkers = 90\n')
    assert {o.error for o in found.observations} == {default("guess_error"), default("exact_error")}
    assert found.notes == ()


def test_the_same_told_twice_counts_once() -> None:
    found = colony(2 * '[[visit]]\ndate = 2025-11-10\ngarden = "30 mL"\n')
    assert only(found, "garden").value == pytest.approx(30)
    assert "counted once" in found.notes[0]


def test_nought_against_a_count_has_a_finite_error() -> None:
    found = colony("[[visit]]\ndate = 2025-11-10\nworkers = 0\n[[visit]]\ndate = 2025-11-10\nworkers = 50\n")
    assert all(0.5 < o.error < 3 for o in found.observations)


def test_brood_seen_and_not_seen_on_one_day_is_kept_and_told() -> None:
    found = colony('[[visit]]\ndate = 2025-11-10\nseen = ["eggs"]\n[[visit]]\ndate = 2025-11-10\nnot_seen = ["eggs"]\n')
    assert sorted(o.value for o in found.observations) == [0.0, 1.0]
    assert "not seen" in found.notes[0]


# What is refused: text below the head, line, field, a piece of the whole message

V = "[[visit]]\ndate = 2025-11-10\n"
E = "[[event]]\ndate = 2025-11-10\n"
WRONG = [
    ('[[visit]]\ndate = "soon"', 6, "visit[0].date", "is not a day"),
    ('[[visit]]\ndate = "2025-02-30"', 6, "visit[0].date", "not a day of the calendar"),
    ("[[visit]]\ndate = 2025-11-10T10:00:00", 6, "visit[0].date", "whole days"),
    ("[[visit]]\ndate = 2025-11-02", 6, "visit[0].date", "before the start of the record; found 2025-11-02"),
    ("[[visit]]\nworkers = 4", 5, "visit[0]", "the key 'date' is missing"),
    ("end = 2025-11-09\n" + V, 7, "visit[0].date", "after the end of the record"),
    ("end = 2025-11-01", 5, "end", "before the start"),
    ("end = 2095-11-01", 5, "end", "longer than 30 years"),
    (V + "workers = -3", 7, "visit[0].workers", "is negative"),
    (V + 'workers = "-3"', 7, "visit[0].workers", "is negative"),
    (V + "workers = nan", 7, "visit[0].workers", "is not a count; found nan"),
    (V + "workers = 3.5", 7, "visit[0].workers", "is not a count"),
    (V + "workers = true", 7, "visit[0].workers", "is not a count"),
    (V + "workers = 99999999999", 7, "visit[0].workers", "more than any colony has"),
    (V + "workers = 'about 99999999999999999999'", 7, "visit[0].workers", "more than any colony has"),
    (V + 'workers = "abuot 60"', 7, "visit[0].workers", "did you mean 'about 60'"),
    (V + 'workers = "80 to 50"', 7, "visit[0].workers", "not below the upper end"),
    (V + 'workers = "0 to 50"', 7, "visit[0].workers", "at least 1"),
    (V + 'workers = "about 0"', 7, "visit[0].workers", "cannot be nought"),
    (V + 'garden = "nan mL"', 7, "visit[0].garden", "cannot be read as a volume"),
    (V + 'garden = "-3 mL"', 7, "visit[0].garden", "is negative"),
    (V + 'garden = "9e9 L"', 7, "visit[0].garden", "is too large"),
    (V + 'garden = "30 mm"', 7, "visit[0].garden", "wrong unit for a volume"),
    (V + "garden = 30", 7, "visit[0].garden", "a text with its unit"),
    (V + 'garden = "30 mL"\ngarden_error = "0 %"', 8, "visit[0].garden_error", "no observation is that exact"),
    (V + 'garden_error = "10 %"', 7, "visit[0].garden_error", "without a garden"),
    (V + 'fill = "50 %"', 7, "visit[0].fill", "needs the bell or chamber that stood that day"),
    (V + 'fill = "130 %"', 7, "visit[0].fill", "is too large"),
    (V + 'seen = ["lavae"]', 7, "visit[0].seen[0]", "did you mean 'larvae'"),
    (V + 'seen = "eggs"', 7, "visit[0].seen", "a list in [brackets]"),
    (V + 'seen = ["eggs"]\nnot_seen = ["eggs"]', 8, "visit[0].not_seen", "is told as seen too; found eggs"),
    (V + 'leaves = "3 mL"', 7, "visit[0].leaves", "as '3 g' or '40 cm2'"),
    (V + 'leaves = "-3 g"', 7, "visit[0].leaves", "is negative"),
    (V + 'plant = "rose"', 7, "visit[0].plant", "a plant without leaves"),
    (V + 'gardn = "3 mL"', 7, "visit[0].gardn", "did you mean 'garden'"),
    ("[visit]\ndate = 2025-11-10", 5, "visit", "[[visit]] in double brackets"),
    (E + 'what = "garden aded"\namount = "3 mL"', 7, "event[0].what", "did you mean 'garden added'"),
    (E + 'what = "garden added"', 7, "event[0].what", "needs an amount; allowed: '20 mL'"),
    (
        E + 'what = "garden added"\namount = 30',
        8,
        "event[0].amount",
        "not told in this measure; found 30; allowed: '20 mL'",
    ),
    (E + 'what = "workers lost"\namount = "30 %"', 8, "event[0].amount", "found 30 %; allowed: 25"),
    (E + 'what = "queen lost"\namount = "300 %"', 8, "event[0].amount", "is too large"),
    (E + 'what = "bell"', 7, "event[0].what", "needs its usable volume"),
    (E + 'what = "queen lost"\nplant = "rose"', 8, "event[0].plant", "a plant without leaves"),
    ("[[bell]]\nfrom = 2025-11-03", 5, "bell[0].usable", "a bell needs a usable volume"),
    ('[[bell]]\nfrom = 2025-11-03\nkind = "chamber"', 7, "bell[0].kind", "as [housing] chamber"),
    (BELLS.replace("2025-12-01", "2025-11-03"), 11, "bell[1].from", "two bells from the same day"),
    (
        '[[bell]]\nfrom = 2025-11-03\nusable = "600 mL"\ndiameter = "60 mm"\nheight = "45 mm"',
        7,
        "bell[0].usable",
        "more than a bell of that diameter and height can hold; found 600 mL; allowed: at most 127 mL",
    ),
    ('[queen]\nstate = "layin"', 6, "queen.state", "did you mean 'laying'"),
    ('[housing]\nmaking_time = "9 mm"', 6, "housing.making_time", "wrong unit"),
    ('[arival]\ngarden = "3 mL"', 5, "arival", "did you mean 'arrival'"),
    ('leaves = "fre"', 5, "leaves", "did you mean 'free'"),
    ("start = 2025-11-04", 5, "", "the same is told twice (cannot overwrite a value); found 'start = 2025-11-04'"),
    ("end = 2026-02-30", 5, "", "not a day of the calendar; found 'end = 2026-02-30'; allowed: a day of the calendar"),
    ("end = 3.11.2026", 5, "", "not a day of the calendar; found 'end = 3.11.2026'; allowed: a day of the calendar"),
    (V + "garden = 30 mL", 7, "", "found 'garden = 30 mL'; allowed: a text or a value with a unit in quotes"),
    ("end 2026-01-01", 5, "", "found 'end 2026-01-01'; allowed: key = value"),
    (V + "workers = " + "9" * 5000, 7, "", "a number has too many digits"),
    (V + "workers = 0x" + "f" * 9000, 7, "visit[0].workers", "found a very long number"),
    (V + "garden = 0x" + "f" * 9000, 7, "visit[0].garden", "found a very long number"),
    ("a" + ".a" * 500_000 + " = 1", 5, "", "nested too deeply"),
    (
        E + 'what = "garden lost"\namount = "130 %"',
        8,
        "event[0].amount",
        "is too large; found '130 %'; allowed: 0 to 100 %, as '20 %'",
    ),
    ('visits = "not-there.csv"', 5, "visits", "cannot be read: no such file"),
]


@pytest.mark.parametrize(("text", "line", "field", "piece"), WRONG, ids=[w[3][:40] + w[0][-20:] for w in WRONG])
def test_each_fault_is_told_with_its_line(tmp_path: Path, text: str, line: int, field: str, piece: str) -> None:
    path = written(tmp_path, text + "\n")
    tells(fault(path), path, line, field, piece)


def test_an_unknown_species_is_told_with_the_nearest(tmp_path: Path) -> None:
    error = fault(written(tmp_path, "", HEAD.replace("echinatior", "echinator")))
    assert (error.line, error.nearest) == (3, "Acromyrmex echinatior")


@pytest.mark.parametrize("year", ["0001", "1899", "2200", "9999"])
def test_a_start_in_no_year_of_a_record_is_refused(tmp_path: Path, year: str) -> None:
    path = written(tmp_path, head=HEAD.replace("2025", year))
    tells(fault(path), path, 4, "start", f"found {year}-11-03; allowed: a day from 1900-01-01 to 2199-12-31")


@pytest.mark.parametrize(
    ("told", "meant"),
    [
        ("queen dead", "queen lost"),
        ("the queen died", "queen lost"),
        ("Queen gone", "queen lost"),
        ("dead workers", "workers lost"),
        ("ants died", "workers lost"),
        ("garden gone", "garden lost"),
        ("fungus dead", "garden lost"),
        ("brood died", "brood lost"),
        ("larvae dead", "brood lost"),
        ("garden removed", "garden taken"),
        ("queen lots", "queen lost"),
        ("leaves gven", "leaves given"),
    ],
)
def test_an_event_in_other_words_is_told_with_the_one_that_is_meant(tmp_path: Path, told: str, meant: str) -> None:
    error = fault(written(tmp_path, E + f'what = "{told}"\n'))
    assert (error.line, error.field, error.nearest) == (7, "event[0].what", meant)


def test_another_format_is_refused(tmp_path: Path) -> None:
    assert fault(written(tmp_path, "", HEAD.replace("format = 1", "format = 2"))).line == 1
    assert fault(written(tmp_path, "", HEAD.replace("format = 1", "format = true"))).line == 1


def test_all_faults_are_told_at_once_in_order_of_lines(tmp_path: Path) -> None:
    error = fault(written(tmp_path, V + "workers = -3\n" + V + 'garden = "x"\n' + E + 'what = "y"\n'))
    assert isinstance(error, FileError)
    assert [e.line for e in error.errors] == [7, 10, 13]


def test_a_table_given_for_the_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"names its table"):
        read_colony(tmp_path / "visits.csv")


def test_a_missing_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        read_colony(tmp_path / "nothing.toml")
