"""Trial colonies of one design by revision, and each revision held against the one before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from nestwright.data import Value, read_values
from nestwright.trial.difference import Difference, Says, colonies_needed, differ
from nestwright.trial.growth import Growth
from nestwright.trial.survival import Kept, Survival, log_rank, survival

__all__ = ["Compared", "Revision", "Trial", "TrialColony", "report", "trial_values"]

QUANTITIES = ("temperature", "relative_humidity", "co2")


def trial_values() -> dict[str, Value]:
    """What the comparison is weighed by, by name."""
    return read_values("trial.toml")


@dataclass(frozen=True)
class TrialColony:
    """One stay of a colony in a build.

    Days are ISO text; `until` the last that is known of. `inside`: by quantity the share of measured hours inside the
    card's limit, its standard error and the hours. `remark`: what was taken for what.
    """

    colony: str
    build: str
    revision: str
    since: str
    until: str
    kept: Kept
    growth: Growth | None
    inside: Mapping[str, tuple[float, float, float]]
    remark: str = ""

    def to_dict(self) -> dict[str, Any]:
        grown = None
        if self.growth is not None:
            grown = {
                "per_day": self.growth.per_day,
                "error": self.growth.error,
                "days": self.growth.days,
                "readings": self.growth.seen,
            }
        inside = {k: dict(zip(("share", "error", "hours"), v, strict=True)) for k, v in self.inside.items()}
        words = {k: getattr(self, k) for k in ("colony", "build", "revision", "since", "until", "remark")}
        return words | {"days": self.kept.days, "lost": self.kept.lost, "growth": grown, "inside": inside}


@dataclass(frozen=True)
class Revision:
    name: str
    builds: int
    colonies: tuple[TrialColony, ...]
    survival: Survival | None

    def to_dict(self) -> dict[str, Any]:
        return {
            "revision": self.name,
            "builds": self.builds,
            "colonies": [c.to_dict() for c in self.colonies],
            "survival": self.survival.to_dict() if self.survival else None,
        }


@dataclass(frozen=True)
class Compared:
    """A later revision against an earlier one. `losses`: chance of a difference in losses as large between revisions
    that are alike. `needed`: colonies of each that would tell a difference in growth of `wanted` 1/d."""

    earlier: str
    later: str
    growth: Difference | None
    inside: Mapping[str, Difference | None]
    losses: float | None
    needed: int | None
    sure: float
    wanted: float

    @property
    def says(self) -> Says:
        """On growth."""
        return self.growth.says(self.sure) if self.growth else "cannot be told"

    @property
    def losses_told(self) -> bool:
        """Whether the losses differ by more than chance makes them, two sides."""
        return self.losses is not None and self.losses <= 2 * (1 - self.sure)

    def to_dict(self) -> dict[str, Any]:
        def told(one: Difference | None) -> dict[str, Any] | None:
            return one.to_dict() | {"says": one.says(self.sure)} if one else None

        return {
            "earlier": self.earlier,
            "later": self.later,
            "growth": told(self.growth),
            "inside": {k: told(v) for k, v in self.inside.items()},
            "losses_by_chance": self.losses,
            "colonies_needed": self.needed,
            "growth_wanted": self.wanted,
            "sure": self.sure,
        }


@dataclass(frozen=True)
class Trial:
    """All revisions of a design that were built, the earliest first."""

    habitat: str
    revisions: tuple[Revision, ...]
    compared: tuple[Compared, ...]
    judgements: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        return {
            "habitat": self.habitat,
            "revisions": [one.to_dict() for one in self.revisions],
            "compared": [one.to_dict() for one in self.compared],
            "judgements": list(self.judgements),
        }


def report(habitat: str, builds: Mapping[str, int], colonies: Sequence[TrialColony]) -> Trial:
    """Compare the revisions of a design.

    Parameters
    ----------
    builds : how many builds each revision has, the earliest revision first.
    colonies : every stay of a colony in one of them.
    """
    values = trial_values()
    made = tuple(
        Revision(name, many, own, survival([c.kept for c in own]))
        for name, many in builds.items()
        for own in [tuple(c for c in colonies if c.revision == name)]
    )
    pairs = list(pairwise(made))
    judged = tuple(name for name, one in values.items() if one.mark == "judgement") if pairs else ()
    return Trial(habitat, made, tuple(_compared(a, b, values) for a, b in pairs), judged)


def _compared(first: Revision, second: Revision, values: Mapping[str, Value]) -> Compared:
    grown = [[(c.growth.per_day, c.growth.error) for c in one.colonies if c.growth] for one in (first, second)]
    difference = differ(grown[0], grown[1], values["growth_between"].value)
    sure, wanted = values["sure"].value, values["growth_wanted"].value
    needed = None
    if difference is not None:
        error = sum(e for group in grown for _, e in group) / sum(map(len, grown))
        needed = colonies_needed(wanted, difference.spread, error, sure)
    inside = {
        q: differ(
            [c.inside[q][:2] for c in first.colonies if q in c.inside],
            [c.inside[q][:2] for c in second.colonies if q in c.inside],
            values["share_between"].value,
        )
        for q in QUANTITIES
    }
    losses = log_rank([c.kept for c in first.colonies], [c.kept for c in second.colonies])
    return Compared(first.name, second.name, difference, inside, losses, needed, sure, wanted)
