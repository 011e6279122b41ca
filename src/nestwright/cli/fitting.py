"""A colony's posterior with a bar while it is fitted, and the options of every command that fits one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from nestwright.cli.progress import progress_bar
from nestwright.errors import InputError

if TYPE_CHECKING:
    from nestwright.colony.fit import Posterior
    from nestwright.colony.model import Colony

__all__ = ["CLIMATE_HELP", "check_leaves", "fit_colony", "progress_bar"]

CLIMATE_HELP = (
    "The garden's climate: a logger CSV, the table of `climate --year --out`, or the JSON of `climate --json`."
)
"""Help of the option --climate of every command that fits a colony."""
LEAVES = "0 to 100000 g/day or cm2/day of fresh leaves, as '3 g/day' or '120 cm2/day'"


def check_leaves(text: str | None) -> float | None:
    """Fresh leaves given, g a day, of a text such as "3 g/day". Raises InputError."""
    if text is None:
        return None
    from nestwright.colony.texts import parse_leaf
    from nestwright.data import colony_values
    from nestwright.units import UnitProblem

    amount, slash, per = text.rpartition("/")
    found = repr(text) if len(text) <= 60 else repr(text[:60]) + " ..."
    if not slash or per.strip() not in ("day", "d"):
        raise InputError("is no amount of leaves a day", field="--leaves", found=found, allowed=LEAVES)
    try:
        leaf = parse_leaf(amount.strip())
    except UnitProblem as problem:
        known = problem.message in ("is negative", "is too small", "is too large")
        message = problem.message if known else "is no amount of leaves a day"
        raise InputError(message, field="--leaves", found=found, allowed=LEAVES) from None
    values = colony_values()
    if leaf.unit == "g":
        return leaf.value
    return leaf.value * values["leaf_dry_area"].value / values["leaf_dry_share"].value


def fit_colony(colony: Colony, *, quiet: bool = False, keep: Path | None = None) -> Posterior:
    """Fit a colony's record, with a bar on the error output when that is a terminal.

    `keep`: the workshop's folder, where the fit is kept for the next command that needs it.
    """
    with progress_bar(quiet) as bar:
        task = bar.add_task("fitting the record", total=1.0)

        def told(share: float) -> None:
            bar.update(task, completed=float(share))

        if keep is not None:
            from nestwright.workshop.kept_fits import kept_fit

            return kept_fit(keep, colony, told)
        from nestwright.colony.fit import fit

        return fit(colony, progress=told)
