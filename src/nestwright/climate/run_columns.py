"""The run of a year as columns: one value an instant, one column a quantity of a zone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from nestwright.climate.results import YearProof

__all__ = ["SHOWN", "columns"]

# quantity of a series -> name of its column, factor, offset, decimals kept
SHOWN = {
    "temperature": ("temperature_degC", 1.0, -273.15, 2),
    "relative_humidity": ("relative_humidity_pct", 100.0, 0.0, 2),
    "co2": ("co2_pct", 100.0, 0.0, 3),
    "o2": ("o2_pct", 100.0, 0.0, 3),
}


def columns(result: YearProof) -> dict[str, list[Any]]:
    """Column name -> values: `hour`, `time` where the room's record has dates, then `<zone>.<quantity>` in the units
    of its name; water bodies in g."""
    from datetime import datetime, timedelta

    import numpy as np

    made: dict[str, list[Any]] = {"hour": np.round(result.time / 3600, 4).tolist()}
    if result.start:
        begin, first = datetime.fromisoformat(result.start), float(result.time[0])
        made["time"] = [(begin + timedelta(seconds=float(t) - first)).isoformat() for t in result.time]
    for zone, quantities in result.series.items():
        for quantity, values in quantities.items():
            if zone == "water":
                made[f"water.{quantity}_g"] = np.round(values * 1000, 2).tolist()
            elif quantity in SHOWN:
                name, factor, offset, decimals = SHOWN[quantity]
                made[f"{zone}.{name}"] = np.round(values * factor + offset, decimals).tolist()
    return made
