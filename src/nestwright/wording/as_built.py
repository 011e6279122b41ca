"""What a dry run says of a build's proof, in words: its line, its verdict, a row a limit."""

from __future__ import annotations

from typing import Any

__all__ = ["build_line", "built_rows", "built_verdict"]


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
    from nestwright.wording.figures import significant

    text = significant(value, 2)
    return text if value < 0 or not float(text) else f"+{text}"
