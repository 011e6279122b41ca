"""Make the invented colonies of the example workshop, with their logger and their table of visits.

    python studies/make_demo_colony.py

Each colony lives once through the growth model with chance (`nestwright.colony.noise`), with a course of events of our
own making; then it is looked at with the errors of a keeper and written down as a person rounds. No such colony exists.
The result is the same each time as long as the model is. Printed: what really happened, for whoever checks a forecast.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from nestwright.colony import parameters as P  # noqa: N812
from nestwright.colony.kernel import EVENT_CODES, N_STATE, start_state
from nestwright.colony.likelihood import seen_chance
from nestwright.colony.model import Colony
from nestwright.colony.noise import TABLE, run_paths
from nestwright.colony.problem import known_climate
from nestwright.data import SpeciesCard, colony_values, load_species
from nestwright.errands.garden_climate import read_garden_climate

Array = NDArray[np.float64]
FOLDER = Path(__file__).parents[1] / "examples/workshop/colonies"
AFTER = 90
"""Days that a colony lives on after its record, for a check of forecasts."""
STAGES = ("eggs", "larvae", "pupae")


@dataclass(frozen=True)
class Look:
    """One visit. `tells`: garden, fill, exact, guess, band, a stage of the brood, waste, taken, in words."""

    day: int
    tells: str
    leaves: str = ""
    plant: str = ""
    note: str = ""


@dataclass(frozen=True)
class Life:
    """What really happened: columns of `noise.TABLE` by day, and the vector that it happened by."""

    path: dict[str, Array]
    vector: Array


def live(
    card: SpeciesCard,
    start: dict[str, float],
    days: int,
    seed: int,
    climate: Array,
    room: float,
    events: tuple[tuple[int, str, float], ...] = (),
    **changed: float,
) -> Life:
    """One life. `start` garden mL, workers, brood; `events` (day, kind, value); `changed` values of the vector."""
    p = P.card_vector(card)
    for name, value in {**{f"start_{k}": v for k, v in start.items()}, **changed}.items():
        p[P.ORDER.index(name)] = value
    y = np.empty(N_STATE)
    start_state(p, y)
    out = np.empty((1, days + 1, len(TABLE)))
    told = (
        np.array([float(d) for d, _, _ in events]),
        np.array([EVENT_CODES[k] for _, k, _ in events], dtype=np.int64),
        np.array([v for _, _, v in events]),
    )
    run_paths(p[None], y[None], 0, days, climate, np.array([float(room)]), np.array([p[P.QUEEN]]), told, seed, out)
    return Life({name: out[0, :, i] for i, name in enumerate(TABLE)}, p)


def look(life: Life, one: Look, before: dict[str, int], rng: np.random.Generator) -> dict[str, object]:
    """What a visit tells, as a keeper writes it: texts and lists by the keys of the colony file."""
    at = {name: float(column[one.day]) for name, column in life.path.items()}
    common = {k: v.value for k, v in colony_values().items()}
    told: dict[str, object] = {}
    seen: dict[str, list[str]] = {"seen": [], "not_seen": []}

    def off(value: float, error: float) -> float:
        return value * float(np.exp(error * rng.standard_normal()))

    for word in one.tells.split():
        if word == "garden":
            told["garden"] = f"{rounded(off(at['garden'], 0.08)):.0f} mL"
            told["garden_error"] = "10 %"
        elif word == "fill":
            told["fill"] = f"{5 * max(1, round(off(at['garden'] / at['room'], 0.12) * 20)):.0f} %"
        elif word == "exact":
            told["workers"] = round(off(at["workers"], common["exact_error"]))
        elif word == "guess":
            told["workers"] = f"about {rounded(off(at['workers'], 0.25)):.0f}"
        elif word == "band":
            middle = off(at["workers"], 0.12)
            told["workers"] = f"{rounded(middle * 0.8):.0f} to {rounded(middle * 1.25):.0f}"
        elif word in STAGES:
            there = rng.random() < seen_chance(life.vector, at[word])
            seen["seen" if there else "not_seen"].append(word)
        elif word in ("waste", "taken"):
            column, dry = ("waste", "waste_dry_share") if word == "waste" else ("intake", "leaf_dry_share")
            amount = life.path[column][one.day] - life.path[column][before[word]]
            key = "waste" if word == "waste" else "leaves_taken"
            told[key] = f"{round(2 * off(amount / common[dry], 0.15)) / 2:g} g"
    told |= {k: v for k, v in seen.items() if v}
    before["waste"] = one.day if "waste" in one.tells else before["waste"]
    before["taken"] = one.day if one.leaves or "taken" in one.tells else before["taken"]
    if one.leaves:
        told |= {"leaves": one.leaves, "plant": one.plant}
    if one.note:
        told["note"] = one.note
    return told


def rounded(value: float) -> float:
    """As a person rounds: to 5 below 100, to 10 below 300, to 50 above."""
    step = 5 if value < 100 else 10 if value < 300 else 50
    return step * round(value / step)


def written(value: object) -> str:
    """A value in TOML."""
    if isinstance(value, list):
        return "[" + ", ".join(f'"{v}"' for v in value) + "]"
    return f'"{value}"' if isinstance(value, str) else str(value)


def visits(life: Life, looks: tuple[Look, ...], start: date, seed: int) -> str:
    """The [[visit]] tables of a colony file."""
    rng, before = np.random.default_rng(seed), {"waste": 0, "taken": 0}
    out = []
    for one in looks:
        told = look(life, one, before, rng)
        lines = [f"{key} = {written(value)}" for key, value in told.items()]
        out.append("\n".join(["", "[[visit]]", f"date = {start + timedelta(days=one.day)}", *lines, ""]))
    return "".join(out)


# ---- Marigold: 121 days, a logger, and everything that can go wrong in a winter

SPECIES = "Acromyrmex octospinosus"
BEGAN, DAYS = date(2025, 11, 2), 121
MOVED, VENT, STUCK, GIVEN = 33, (34, 44), 60, 80
LOGGER_OFF = (52, 55)
HOURS = 2
BELLS = ((0, "first", 130, 75, 55), (27, "second", 300, 100, 70), (114, "third", 700, 130, 90))
LOOKS = (
    Look(3, "garden guess eggs larvae", "1.5 g", "bramble"),
    Look(8, "fill pupae", "1.5 g", "bramble"),
    Look(13, "fill guess taken waste", "2 g", "rose"),
    Look(20, "garden eggs larvae", "2 g", "bramble"),
    Look(27, "fill band pupae", "2 g", "bramble", "second bell"),
    Look(33, "garden", "2 g", "privet", "moved into the flat, by the radiator; vent opened all the way"),
    Look(38, "fill larvae", "2 g", "privet"),
    Look(44, "garden guess", "2 g", "bramble", "rim of the garden dry and brown; vent closed to four holes"),
    Look(47, "fill waste eggs", "4 g", "bramble", "away until the new year; a neighbour gives bramble"),
    Look(69, "garden band pupae", "3 g", "bramble", "the heat mat had stuck at full on New Year's night"),
    Look(73, "fill exact taken", "3 g", "bramble", "counted on photographs"),
    Look(77, "garden larvae", "3 g", "rose"),
    Look(80, "garden waste", "4 g", "hedge by the car park", "a new hedge, not known what it is"),
    Look(84, "garden", "2 g", "bramble", "leaves carried out again; the hedge's taken away"),
    Look(86, "garden", "2 g", "bramble", "pieces of garden on the heap"),
    Look(88, "garden guess", "3 g", "bramble", "brown hollow in the middle"),
    Look(90, "garden", "3 g", "bramble"),
    Look(93, "garden eggs larvae", "3 g", "bramble"),
    Look(99, "garden band pupae", "4 g", "bramble"),
    Look(106, "garden waste", "5 g", "rose"),
    Look(114, "garden guess", "6 g", "bramble", "third bell"),
    Look(121, "fill band", "6 g", "bramble"),
)
HEAD = """\
# Invented: no such colony exists. Made by studies/make_demo_colony.py, which holds what really happened to it.
# A colony that was moved into a heated flat in winter: dry air under a vent opened too far, one hot night, a batch
# of leaves that did harm, and two larger bells.
format = 1
name = "Marigold"
species = "{species}"
start = {start}
climate = "marigold-logger.csv"

[queen]
state = "laying"

[arrival]
garden = "{garden} mL"
workers = "about {workers}"

[housing]
chamber = "2.4 L"
opening = "110 mm"
lid = "180 mm"
headroom = "130 mm"
making_time = "9 day"
chamber_time = "21 day"
"""


def logger(seed: int) -> str:
    """The garden's air every two hours: a cellar workshop, then the flat with its radiator."""
    rng = np.random.default_rng(seed)
    rows, slow = io.StringIO(), 0.0
    table = csv.writer(rows, lineterminator="\n")
    table.writerow(["time", "temperature_degC", "humidity_pct"])
    for k in range(DAYS * 24 // HOURS + 1):
        day, hour = k * HOURS / 24, (k * HOURS) % 24
        slow = 0.96 * slow + 0.12 * rng.standard_normal()
        swing = np.sin(2 * np.pi * (hour - 9) / 24)
        warm = 23.6 + 0.4 * swing if day < MOVED else 24.6 + 0.7 * swing
        damp = 96.0 if day < MOVED else 94.8
        if VENT[0] <= day < VENT[1]:
            damp = 85.5 - 1.5 * swing
        night = (day - (STUCK - 0.1)) * 24
        if 0 <= night <= 12:
            warm, damp = 33.0 - 4.0 * abs(night - 6) / 6, 93.0
        if LOGGER_OFF[0] <= day < LOGGER_OFF[1]:
            continue
        when = datetime.combine(BEGAN, datetime.min.time()) + timedelta(hours=HOURS * k)
        damp = min(damp + 0.8 * rng.standard_normal() - 0.6 * slow, 99.0)
        table.writerow([f"{when:%Y-%m-%d %H:%M}", f"{warm + slow + 0.1 * rng.standard_normal():.1f}", f"{damp:.1f}"])
    return rows.getvalue()


def marigold() -> Life:
    """Write the colony and its logger."""
    card = load_species(SPECIES)
    air = FOLDER / "marigold-logger.csv"
    air.write_text(logger(5))
    blank = Colony("Marigold", SPECIES, BEGAN, DAYS)
    record = read_garden_climate(air, blank, 1).record
    assert record is not None
    climate, _ = known_climate(record, card.growth["reference_temperature"].value)
    usual = np.repeat(climate[-14:].mean(axis=0)[None], AFTER, axis=0)
    life = live(
        card,
        {"garden": 58.0, "workers": 62.0, "brood": 50.0},
        DAYS + AFTER,
        seed=7,
        climate=np.vstack([climate[:DAYS], usual]),
        room=BELLS[0][2],
        events=tuple((day, "room", float(room)) for day, _, room, _, _ in BELLS[1:]),
        cause=float(P.CAUSES.index("harmful_leaf")),
        onset=GIVEN + 0.5,
        size=0.1,
    )
    text = HEAD.format(species=SPECIES, start=BEGAN, garden=60, workers=60)
    for day, name, room, wide, high in BELLS:
        size = f'usable = "{room} mL"\ndiameter = "{wide} mm"\nheight = "{high} mm"\n'
        text += f'\n[[bell]]\nfrom = {BEGAN + timedelta(days=day)}\nname = "{name}"\n{size}'
    (FOLDER / "marigold.toml").write_text(text + visits(life, LOOKS, BEGAN, 11))
    return life


# ---- Thistle: three observations in six weeks


def thistle() -> Life:
    """Write a colony of which little was told."""
    species, start, days = "Acromyrmex echinatior", date(2026, 2, 1), 44
    card = load_species(species)
    climate = np.array([[24.0, 0, 0, 0, 0, 0]])
    life = live(card, {"garden": 26.0, "workers": 30.0, "brood": 25.0}, days + AFTER, 21, climate, 90.0)
    looks = (Look(9, "garden"), Look(30, "guess"), Look(44, "fill"))
    text = f"""\
# Invented: no such colony exists. Made by studies/make_demo_colony.py. Three observations in six weeks: the forecast
# is as wide as that.
format = 1
name = "Thistle"
species = "{species}"
start = {start}

[arrival]
garden = "25 mL"

[[bell]]
from = {start}
usable = "90 mL"
"""
    (FOLDER / "thistle.toml").write_text(text + visits(life, looks, start, 22))
    return life


# ---- Hollyhock: a table of visits, and a queen of whom the keeper knows nothing


def hollyhock() -> Life:
    """Write a colony whose queen died without anybody seeing it."""
    species, start, days, lost = "Acromyrmex octospinosus", date(2025, 12, 1), 98, 42
    card = load_species(species)
    climate = np.array([[24.5, 0, 0, 0, 0, 0]])
    begin = {"garden": 150.0, "workers": 160.0, "brood": 130.0}
    life = live(card, begin, days + AFTER, 33, climate, 600.0, ((lost, "queen", 0.0),))
    rng, before = np.random.default_rng(34), {"waste": 0, "taken": 0}
    rows = io.StringIO()
    names = ["date", "garden_mL", "garden_error_pct", "workers", "seen", "not_seen", "waste_g"]
    table = csv.DictWriter(rows, names, lineterminator="\n")
    table.writeheader()
    for week, day in enumerate(range(7, days + 1, 7)):
        tells = "garden eggs larvae" + (" pupae band" if week % 2 else "") + (" waste" if week % 4 == 3 else "")
        told = look(life, Look(day, tells), before, rng)
        row = {
            "date": start + timedelta(days=day),
            "garden_mL": str(told["garden"]).split()[0],
            "garden_error_pct": "10",
            "workers": told.get("workers", ""),
            "seen": " ".join(told.get("seen", ())),  # type: ignore[arg-type]
            "not_seen": " ".join(told.get("not_seen", ())),  # type: ignore[arg-type]
            "waste_g": str(told.get("waste", "")).split(" ")[0],
        }
        table.writerow(row)
    (FOLDER / "hollyhock-visits.csv").write_text(rows.getvalue())
    (FOLDER / "hollyhock.toml").write_text(
        f"""\
# Invented: no such colony exists. Made by studies/make_demo_colony.py, which says what really happened. Visits stand
# in a table; `nestwright diagnose colonies/hollyhock.toml` says what is wrong.
format = 1
name = "Hollyhock"
species = "{species}"
start = {start}
visits = "hollyhock-visits.csv"

[arrival]
garden = "150 mL"
workers = "about 160"

[[bell]]
from = {start}
usable = "600 mL"
"""
    )
    return life


def main() -> None:
    """Write all files, and print the lives."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    for make in (marigold, thistle, hollyhock):
        life = make()
        print(f"{make.__name__}: day, garden mL, workers")
        for day in range(0, len(life.path["garden"]), 7):
            print(f"{day:5d} {life.path['garden'][day]:7.0f} {life.path['workers'][day]:6.0f}")


if __name__ == "__main__":
    main()
