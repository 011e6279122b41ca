"""What cannot have been is remarked with its day and line, and is no fault; what can have been is not remarked.

How fast a garden and workers can grow is that of the species cards. Garden x 3 in 18 days at best: common practice,
no source. Everything else here is arithmetic: more cannot be taken than there is, a bell holds what it holds.
"""

from datetime import date
from pathlib import Path

import pytest
from colony_files import HEAD, colony, written

from nestwright.colony.file import read_colony
from nestwright.data import load_species, species_names

ARRIVAL = """\
[arrival]
garden = "44 mL"
workers = "about 90"
"""
BELL = '[[bell]]\nfrom = 2025-11-03\nname = "first"\nusable = "90 mL"\n'


def event(what: str, amount: str, day: str = "2025-11-20") -> str:
    return f'[[event]]\ndate = {day}\nwhat = "{what}"\namount = "{amount}"\n'


def visit(text: str, day: str = "2025-11-10") -> str:
    return f"[[visit]]\ndate = {day}\n{text}\n"


IMPOSSIBLE = {
    "more workers taken than there are": (
        ARRIVAL + event("workers taken", "5000"),
        "2025-11-20, line 10: 5000 workers taken, the last count was about 90",
    ),
    "more workers lost than there are": (
        ARRIVAL + event("workers lost", "500"),
        "2025-11-20, line 10: 500 workers lost, the last count was about 90",
    ),
    "the second time there are none left": (
        visit("workers = 100")
        + event("workers taken", "95", "2025-11-11")
        + event("workers taken", "60", "2025-11-12"),
        "2025-11-12, line 14: 60 workers taken, the last count was about 100",
    ),
    "more garden taken than there is": (
        visit('garden = "40 mL"') + event("garden taken", "2 L"),
        "2025-11-20, line 10: 2000 mL of garden taken, the last measure was about 40 mL",
    ),
    "a garden larger than its bell": (
        ARRIVAL + BELL + visit('garden = "900 mL"'),
        "2025-11-10, line 14: 900 mL of garden under 'first', which holds 90 mL",
    ),
    "a garden that came larger than its bell": (
        ARRIVAL.replace("44 mL", "300 mL") + BELL,
        "2025-11-03, line 5: 300 mL of garden under 'first', which holds 90 mL",
    ),
    "more garden added than the bell holds": (
        BELL + event("garden added", "500 mL"),
        "2025-11-20, line 11: 500 mL of garden added under 'first', which holds 90 mL",
    ),
    "a garden that grows twentyfold in a week": (
        ARRIVAL + visit('garden = "900 mL"'),
        "2025-11-10, line 10: 900 mL of garden, more than can have come; the last measure was about 44 mL",
    ),
    "workers that become tenfold in a week": (
        ARRIVAL + visit("workers = 900"),
        "2025-11-10, line 10: 900 workers, more than can have come; the last count was about 90",
    ),
    "a garden that was lost": (
        ARRIVAL + event("garden lost", "100 %", "2025-11-08") + visit('garden = "40 mL"'),
        "2025-11-10, line 14: 40 mL of garden, more than can have come; all of it was told as lost on 2025-11-08",
    ),
    "workers that came without a garden to live on": (
        ARRIVAL.replace("about 90", "2000000"),
        "2025-11-03, line 5: 2000000 workers came with 44 mL of garden; the card has 0.4 to 2.5 mL a worker",
    ),
    "a start years before anything": (
        visit("workers = 80", "2028-11-10"),
        "2025-11-03: nothing is told from the start until 2028-11-10; is the year of the start right?",
    ),
}


ALONE = {
    "counts that cannot be hide no loss that cannot be": (
        ARRIVAL
        + visit('workers = 90000\ngarden = "4 L"')
        + event("garden lost", "4 L")
        + event("workers lost", "90000"),
        ["4000 mL of garden, more", "90000 workers, more", "4000 mL of garden lost", "90000 workers lost, the last"],
    ),
    "a loss that cannot be hides no count that cannot be": (
        ARRIVAL + event("workers taken", "5000", "2025-11-08") + visit("workers = 90000"),
        ["5000 workers taken, the last count was about 90", "90000 workers, more than can have come"],
    ),
    "the same loss twice": (
        ARRIVAL + event("garden lost", "4 L") + event("garden lost", "4 L", "2025-11-21"),
        ["4000 mL of garden lost, the last measure was about 44 mL"] * 2,
    ),
    "a later look that agrees with the first doubted one": (
        ARRIVAL + visit("workers = 900") + visit("workers = 950", "2025-11-12"),
        ["900 workers, more than can have come"],
    ),
    "waste and leaves far beyond the garden": (
        '[arrival]\ngarden = "20 mL"\n' + visit('waste = "5 kg"\nleaves_taken = "9 kg"'),
        [
            "2025-11-10, line 9: 1750 g dry of waste over 7 days, more than the garden can pass; the last measure was",
            "2025-11-10, line 10: 2700 g dry of leaves taken in over 7 days, more than the garden can pass",
        ],
    ),
    "a queen lost twice": (
        '[[event]]\ndate = 2025-11-12\nwhat = "queen lost"\n' + '[[event]]\ndate = 2025-11-15\nwhat = "queen lost"\n',
        ["2025-11-15, line 10: queen lost, she was told as lost on 2025-11-12"],
    ),
    "eggs months after the queen": (
        '[[event]]\ndate = 2025-11-12\nwhat = "queen lost"\n' + visit('seen = ["eggs"]', "2026-03-12"),
        ["2026-03-12, line 10: eggs seen, the queen was told as lost on 2025-11-12; her last egg has hatched after"],
    ),
    "eggs and never a queen": (
        '[queen]\nstate = "none"\n' + visit('seen = ["eggs", "larvae"]', "2025-12-05"),
        ["2025-12-05, line 9: eggs seen, the record begins without a queen; her last egg"],
    ),
}


@pytest.mark.parametrize(("text", "remarks"), ALONE.values(), ids=ALONE)
def test_each_thing_is_judged_on_its_own(tmp_path: Path, text: str, remarks: list[str]) -> None:
    notes = read_colony(written(tmp_path, text)).notes
    assert len(notes) == len(remarks)
    assert all(remark in note for note, remark in zip(notes, remarks, strict=True))


def test_waste_of_a_row_is_named_with_its_table(tmp_path: Path) -> None:
    table = "date,garden_mL,waste_g\n2025-11-10,20,\n2025-11-17,,5000\n"
    (note,) = read_colony(written(tmp_path, 'visits = "visits.csv"\n', table=table)).notes
    assert note.startswith("2025-11-17, visits.csv, line 3: 1750 g dry of waste over ")


@pytest.mark.parametrize(("today", "told"), [(None, 0), (date(2025, 11, 2), 1), (date(2025, 11, 3), 0)])
def test_a_start_to_come_is_remarked(tmp_path: Path, today: date | None, told: int) -> None:
    notes = read_colony(written(tmp_path), today).notes
    assert len(notes) == told
    assert all("2025-11-03: the record begins after today, 2025-11-02" in note for note in notes)


@pytest.mark.parametrize(("text", "remark"), IMPOSSIBLE.values(), ids=IMPOSSIBLE)
def test_what_cannot_have_been_is_remarked(tmp_path: Path, text: str, remark: str) -> None:
    assert read_colony(written(tmp_path, text)).notes == (remark,)


def test_of_a_row_the_table_is_named_too(tmp_path: Path) -> None:
    table = "date,workers,event,amount\n2025-11-10,90,,\n2025-11-11,,workers taken,5000\n"
    found = read_colony(written(tmp_path, 'visits = "visits.csv"\n', table=table))
    assert found.notes == ("2025-11-11, visits.csv, line 3: 5000 workers taken, the last count was about 90",)


POSSIBLE = {
    "a guess may be half of the truth": ARRIVAL + event("workers taken", "150"),
    "what was added may be taken": ARRIVAL
    + event("workers added", "400", "2025-11-12")
    + event("workers taken", "420", "2025-11-13"),
    "added and taken on one day, in any order": ARRIVAL
    + event("garden taken", "200 mL", "2025-11-12")
    + event("garden added", "200 mL", "2025-11-12"),
    "taken on the day of a count": visit("workers = 90") + event("workers taken", "90", "2025-11-10"),
    "a garden that triples in 18 days": ARRIVAL + visit('garden = "132 mL"', "2025-11-21"),
    "a full bell": ARRIVAL + BELL + visit('fill = "100 %"'),
    "a little over a full bell": ARRIVAL + BELL + visit('garden = "100 mL"', "2025-11-25"),
    "under the larger bell of that day": BELL
    + '[[bell]]\nfrom = 2025-11-20\nusable = "600 mL"\n'
    + event("garden added", "500 mL"),
    "nothing is known": event("workers taken", "5000") + event("garden taken", "2 L"),
    "a garden that came back": ARRIVAL
    + event("garden lost", "100 %", "2025-11-08")
    + event("garden added", "40 mL", "2025-11-09")
    + visit('garden = "40 mL"'),
    "a colony of a queen and a few": "[arrival]\nworkers = 4\nbrood = 30\n" + visit("workers = 32", "2025-12-15"),
    "waste and leaves of a garden that thrives": ARRIVAL + visit('waste = "8 g"\nleaves_taken = "9 g"'),
    "waste of a garden that was lost": ARRIVAL
    + event("garden lost", "100 %", "2025-11-08")
    + visit('waste = "12 g"', "2025-11-09"),
    "a new queen lost too": "".join(
        f'[[event]]\ndate = 2025-11-{day}\nwhat = "queen {what}"\n'
        for day, what in (("10", "lost"), ("12", "laying"), ("14", "lost"))
    ),
    "her last brood grows up": '[[event]]\ndate = 2025-11-12\nwhat = "queen lost"\n'
    + visit('seen = ["eggs", "larvae", "pupae"]', "2025-11-20")
    + visit('seen = ["pupae"]', "2025-12-28"),
    "workers without a garden": '[arrival]\ngarden = "0 mL"\nworkers = 300\n',
}


@pytest.mark.parametrize("text", POSSIBLE.values(), ids=POSSIBLE)
def test_what_can_have_been_is_not_remarked(text: str) -> None:
    assert colony(text).notes == ()


@pytest.mark.parametrize("species", species_names())
def test_a_good_year_of_any_species_is_not_remarked(species: str) -> None:
    """From 10 workers on, doubling every 30 days until 1000: what the cards take as the growth of a small colony."""
    per_worker = load_species(species).growth["garden_per_worker"].value
    text = ""
    for month in range(8):
        workers = 10 * 2**month
        day = f"{2025 + (10 + month) // 12}-{(10 + month) % 12 + 1:02d}-10"
        text += visit(f'workers = {workers}\ngarden = "{per_worker * workers:.1f} mL"', day)
    assert colony(text, HEAD.replace("Acromyrmex echinatior", species)).notes == ()


def test_a_thousand_counts_that_disagree_are_told_in_full() -> None:
    notes = colony(visit("workers = 1200") + visit("workers = 4500")).notes
    assert "told as 1200 and 4500, " in notes[0]


def test_many_values_of_one_day_are_told_by_their_ends() -> None:
    notes = colony("".join(visit(f"workers = {n}") for n in (90, 400, 70, 1200, 300))).notes
    assert notes[0].startswith("2025-11-10: workers told as 5 values from 70 to 1200, further apart")
