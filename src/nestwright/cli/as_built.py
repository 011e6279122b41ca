"""The proof of a build of the record: its habitat's proof, with what its dry run found."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright.errors import InputError

if TYPE_CHECKING:
    from nestwright.climate.results import Proof
    from nestwright.workshop.builds import Made
    from nestwright.workshop.dry_runs import KeptDryRun
    from nestwright.workshop.folder import Workshop

__all__ = ["Standing", "as_built", "build_line", "built_rows", "built_verdict", "print_built", "room_of", "standing"]


@dataclass(frozen=True)
class Standing:
    """A build as the record has it: its habitat's file, the room that it stands in ("" unknown), its dry run."""

    made: Made
    file: Path
    room: str
    dry: KeptDryRun | None


def standing(made: Made, workshop: Workshop) -> Standing:
    """What the record knows of a build. Raises InputError for a kept dry run that cannot be read."""
    from nestwright.workshop.dry_runs import last_dry_run

    stands = str(made.values["stands"] or "")
    room = workshop.folder / stands
    inside = stands and room.is_file() and room.resolve().is_relative_to(workshop.folder.resolve())
    return Standing(
        made, workshop.folder / str(made.values["habitat"]), str(room) if inside else "", last_dry_run(workshop, made)
    )


def as_built(build: Standing, habitat: Any, air: Any, proof: Proof) -> dict[str, Any]:
    """The build's part of the JSON: `build`, the revision that it was made to, and `dry_run` with each limit's margin;
    null where there is none."""
    from nestwright.climate.as_built import build_margins

    made_to = str(build.made.values["revision"] or "")
    out: dict[str, Any] = {"build": build.made.serial, "made_to_revision": made_to, "dry_run": None}
    dry = build.dry
    if dry is None:
        return out
    told = {"date": dry.day, "file": dry.file, "revision": dry.revision, "verdict": dry.verdict, "sure": dry.sure}
    if dry.revision != habitat.revision:
        note = (
            f"it was of revision {dry.revision}, the file is revision {habitat.revision} now: its factors are not used"
        )
        return out | {"dry_run": told | {"holds_chance": None, "limits": [], "notes": [note]}}
    limits, chance, notes = build_margins(habitat, air, dry.builds, proof.limits)
    told |= {"holds_chance": chance, "limits": [one.to_dict() for one in limits], "notes": list(notes)}
    return out | {"dry_run": told}


def build_line(told: dict[str, Any], revision: str) -> str:
    """Which dry run the proof of a build rests on, and whether the design's file is still that of the build."""
    dry = told["dry_run"]
    if dry is None:
        line = f"Build {told['build']}: no dry run yet, so this is a proof on paper only (nestwright dryrun)."
    else:
        said = dry["verdict"] if dry["sure"] else f"{dry['verdict']} whether as designed"
        unused = " Not used, see the note below." if not dry["limits"] else ""
        line = f"Build {told['build']}: dry run of {dry['date']}, {said}.{unused}"
    made_to = told["made_to_revision"]
    if made_to and made_to != revision:
        line += f" It was made to revision {made_to}; this proof is of revision {revision}."
    return line


def built_verdict(told: dict[str, Any] | None) -> str:
    """The verdict on the build as its dry run found it; "" where none was proved."""
    dry = None if told is None else told["dry_run"]
    if dry is None or dry["holds_chance"] is None:
        return ""
    chance = dry["holds_chance"]
    if chance > 0.99:
        line = "surely holds every limit"
    else:
        line = "does not hold every limit" if chance < 0.01 else f"holds every limit {_chance(chance)}"
    line += ", by the build's own factors alone."  # the uncertain inputs are the design's line's
    doubtful = [one["name"] for one in dry["limits"] if one["held_chance"] < 0.9]
    return f"{line} In doubt: {', '.join(doubtful)}." if doubtful else line


def _chance(chance: float) -> str:
    return "surely" if chance > 0.99 else "hardly" if chance < 0.01 else f"in {chance * 100:.0f} of 100"


def print_built(told: dict[str, Any]) -> None:
    """Print each limit's margin as designed and as built."""
    from nestwright.cli.output import console, heading, plain, table

    dry, out = told["dry_run"], console()
    if dry is None:
        return
    if dry["limits"]:
        out.print(heading(f"As built, by the dry run of {dry['date']}"))
        out.print(table(["limit", "margin designed", "margin as built, 80 %", "holds"], built_rows(told), left=(0, 3)))
        out.print("[dim]By the build's own factors alone; the interval above is what else is uncertain.[/dim]")
    for note in dry["notes"]:
        out.print(f"Note: {plain(note)}")


def built_rows(told: dict[str, Any]) -> list[list[str]]:
    """A row a limit: its margin as designed and as built, and in how many of 100 it holds; none without a dry run."""
    rows = []
    for one in sorted((told["dry_run"] or {"limits": []})["limits"], key=lambda one: one["held_chance"]):
        unit = "" if one["unit"] == "ratio" else f" {one['unit']}"
        designed, built = f"{_signed(one['margin_designed'])}{unit}", f"{_range(one)}{unit}"
        rows.append([one["name"], designed, built, _chance(one["held_chance"])])
    return rows


def _range(one: dict[str, Any]) -> str:
    low, middle, high = (_signed(one[f"margin_{end}"]) for end in ("low", "fitted", "high"))
    return middle if low == high else f"{middle} ({low} to {high})"


def _signed(value: float) -> str:
    from nestwright.cli.output import significant

    text = significant(value, 2)
    return text if value < 0 or not float(text) else f"+{text}"


def room_of(room: str | None, build: Standing | None) -> str:
    """The room that is meant. Raises InputError where none is told or known."""
    if room is not None:
        return room
    if build is not None and build.room:
        return build.room
    allowed = '--room "21 degC, 45 %", a room file, a logger CSV or a weather file'
    if build is not None:
        allowed += "; or a room's file as the place where the build stands"
    raise InputError("is missing", field="--room", allowed=allowed)
