"""The proof of a build of the record: its habitat's proof, with what its dry run found."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright.errors import InputError
from nestwright.wording.as_built import built_rows

if TYPE_CHECKING:
    from nestwright.climate.results import Proof
    from nestwright.workshop.builds import Made
    from nestwright.workshop.dry_runs import KeptDryRun
    from nestwright.workshop.folder import Workshop

__all__ = ["Standing", "as_built", "print_built", "room_of", "standing"]


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
