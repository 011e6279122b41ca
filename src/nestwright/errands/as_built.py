"""The proof of a build of the record: its habitat's proof, with what its dry run found."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from nestwright.climate.results import Proof
    from nestwright.workshop.builds import Made
    from nestwright.workshop.dry_runs import KeptDryRun
    from nestwright.workshop.folder import Workshop

__all__ = ["Standing", "as_built", "standing"]


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
