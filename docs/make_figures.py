"""Draw docs/pictures and write the figures of the examples into README and docs/guide/examples.md (`make docs`)."""

from pathlib import Path

from nestwright.charts.bells import plan_chart
from nestwright.charts.render import save
from nestwright.charts.rescue import rescue_chart
from nestwright.cli import demo, demo_colony
from nestwright.cli.output import share_text, significant
from nestwright.cli.pictures import draw_section, draw_window, draw_year
from nestwright.climate.proof import prove, prove_year
from nestwright.climate.room_window import window
from nestwright.climate.rooms import read_room
from nestwright.colony.fit import fit
from nestwright.colony.plan import plan
from nestwright.colony.rescue import rescue
from nestwright.errands.fitting import colony_and_climate
from nestwright.habitat.file import read_habitat

DOCS = Path(__file__).parent
WORKSHOP = demo.example_workshop()
PLAN_DAYS = 120
RESCUE = ("Acromyrmex octospinosus", 40, 10, 20, 15)
"""Species, workers, eggs, larvae and pupae of the guide's rescue."""
HEAD = ["habitat", "room", "verdict", "first limit to go", "hours held", "water g/day", "refill days", "heater W"]


def pictures() -> None:
    """The pictures of the demo's habitat and of its colony."""
    folder = DOCS / "pictures"
    folder.mkdir(exist_ok=True)
    habitat = read_habitat(WORKSHOP / demo.HABITAT)
    room = read_room(str(WORKSHOP / demo.ROOM))
    draw_section(habitat, prove(habitat, read_room(demo.STEADY)), folder / "section.svg")
    draw_window(window(habitat, room), folder / "window.svg")
    draw_year(prove_year(habitat, room), folder / "year.svg")
    grown = demo_colony.grow(WORKSHOP, quiet=True)
    demo_colony.draw(grown, folder)
    colony, _, _ = colony_and_climate(WORKSHOP / demo_colony.COLONY, None, PLAN_DAYS)
    save(plan_chart(plan(fit(colony), PLAN_DAYS)), folder / "plan.svg")
    save(rescue_chart(rescue(*RESCUE)), folder / "rescue.svg")


def year_rooms() -> list[Path]:
    """The example rooms that last a year."""
    return [p for p in sorted((WORKSHOP / "rooms").glob("*.toml")) if read_room(str(p)).time[-1] > 8000 * 3600]


def row(habitat_file: Path, room_file: Path) -> list[str]:
    """One habitat in one room over its year."""
    result = prove_year(read_habitat(habitat_file), read_room(str(room_file)))
    proof = result.mean
    first = proof.first_limit
    held = None if first is None or first.hours_held_share is None else first.hours_held_share * 100
    return [
        habitat_file.stem,
        room_file.stem,
        "holds" if proof.holds else "does not hold",
        "" if first is None else first.name,
        share_text(held),
        significant(proof.water_rate * 86.4e6),
        significant(None if proof.refill_time is None else proof.refill_time / 86400, none="never"),
        significant(proof.heater_power) if proof.heater_duty is not None else "no heater",
    ]


def table(rows: list[list[str]]) -> str:
    """A table in Markdown."""
    lines = [HEAD, ["---"] * len(HEAD), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines) + "\n"


def main() -> None:
    """Write all of it."""
    pictures()
    rows = [row(h, r) for h in sorted((WORKSHOP / "habitats").glob("*.toml")) for r in year_rooms()]
    here = [row for row in rows if row[1] == Path(demo.ROOM).stem]
    start = "<!-- figures: made by `make docs` -->\n"
    for path, made in ((DOCS / "guide" / "examples.md", table(rows)), (DOCS.parent / "README.md", table(here))):
        text = path.read_text()
        before, rest = text.split(start)
        after = rest.split("<!-- end of figures -->")[1]
        path.write_text(f"{before}{start}{made}<!-- end of figures -->{after}")
        print(f"wrote {path.name}")


if __name__ == "__main__":
    main()
