"""How long colonies kept their garden in a revision's builds, those that still have it counted for what they have told.

The product-limit estimate and the log-rank test are scipy's; this module says what goes in and what comes out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

__all__ = ["Kept", "Survival", "log_rank", "survival"]


@dataclass(frozen=True)
class Kept:
    """`days` from moving in to the loss, or to the last day that is known of; `lost` which of the two."""

    days: float
    lost: bool


@dataclass(frozen=True)
class Survival:
    """Share that is kept from each day of a loss on, with an 80 % interval (nought to one where a step tells none);
    `colonies` in all and `losses`; `followed` days of the longest record."""

    day: tuple[float, ...]
    share: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    colonies: int
    losses: int
    followed: float

    @property
    def median(self) -> float | None:
        """Day by which half are lost; None where more than half are kept to the end."""
        return next((d for d, s in zip(self.day, self.share, strict=True) if s <= 0.5), None)

    def to_dict(self) -> dict[str, Any]:
        curve = {name: list(getattr(self, name)) for name in ("day", "share", "low", "high")}
        told = {"colonies": self.colonies, "losses": self.losses, "followed": self.followed, "median": self.median}
        return told | {"curve": curve}


def survival(kept: Sequence[Kept]) -> Survival | None:
    """Product-limit estimate with log-log intervals; None without a colony.

    References
    ----------
    Kaplan & Meier 1958, doi:10.1080/01621459.1958.10501452; intervals: Kalbfleisch & Prentice, The Statistical Analysis
    of Failure Time Data, section 1.4.
    """
    if not kept:
        return None
    import warnings

    import numpy as np
    from scipy.stats import ecdf

    found = ecdf(_censored(kept)).sf
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        # where all or none are kept the interval has no closed form: it is then the whole range
        warnings.simplefilter("ignore")
        bounds = found.confidence_interval(confidence_level=0.8, method="log-log")
    low, high = (np.asarray(one.probabilities, dtype=float) for one in (bounds.low, bounds.high))
    low, high = np.where(np.isfinite(low), low, 0.0), np.where(np.isfinite(high), high, 1.0)
    step = np.flatnonzero(np.diff(np.concatenate([[1.0], found.probabilities])) < 0)

    def picked(values: Any) -> tuple[float, ...]:
        return tuple(float(x) for x in np.asarray(values)[step])

    return Survival(
        picked(found.quantiles), picked(found.probabilities), picked(low), picked(high),
        len(kept), sum(one.lost for one in kept), max(one.days for one in kept),
    )  # fmt: skip


def log_rank(first: Sequence[Kept], second: Sequence[Kept]) -> float | None:
    """Chance of a difference in losses as large as this between revisions that are alike (two sides).

    None where a group is empty or nothing was lost in either: there is nothing to compare.

    References
    ----------
    Mantel 1966, Cancer Chemotherapy Reports 50:163; Peto & Peto 1972, doi:10.2307/2344317.
    """
    if not first or not second or not any(one.lost for one in (*first, *second)):
        return None
    import math

    import numpy as np
    from scipy.stats import logrank

    with np.errstate(invalid="ignore"):
        # where all were lost on one day there is no variance: no chance can be told
        chance = float(logrank(_censored(first), _censored(second)).pvalue)
    return chance if math.isfinite(chance) else None


def _censored(kept: Sequence[Kept]) -> Any:
    from scipy.stats import CensoredData

    return CensoredData(
        uncensored=[one.days for one in kept if one.lost], right=[one.days for one in kept if not one.lost]
    )
