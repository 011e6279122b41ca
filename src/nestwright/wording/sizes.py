"""Sizes found, in words: the verdict, the free sizes, the limits and the trade as rows."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nestwright.climate.size_results import SizeResult, TradeOff, TradePoint

__all__ = ["free_rows", "side_rows", "size_verdict", "trade_rows"]


def size_verdict(result: SizeResult) -> tuple[str, str, str]:
    """Whether it holds, by how much or what forbids it, and how it was before."""
    from nestwright.wording.figures import figure

    before = "" if result.worst_before is None else f"As it stands: {figure(result.worst_before, 1, sign=True)}."
    near = "under 0.1"  # a margin is not told as 0: its sign is the verdict
    if result.holds:
        margin = figure(result.worst_margin, 1) if round(result.worst_margin, 1) else near
        rest = f"The first limit to go is {result.first_limit.name}, {margin} tolerances inside."
        return "Holds with these sizes.", rest, before
    outside = figure(-result.worst_margin, 1) if round(result.worst_margin, 1) else near
    rest = f"{result.forbids} forbids it: at the best choice it is {outside} tolerances outside."
    return "No choice within the bounds holds.", rest, before


def free_rows(result: SizeResult) -> tuple[list[str], list[list[str]]]:
    """Head and rows of the free sizes."""
    rows = [
        [
            f.key,
            f.before or "not set",
            f.best,
            f"{f.low} to {f.high}",
            f"at its {f.at_bound} bound" if f.at_bound else "",
        ]
        for f in result.free
    ]
    return ["size", "now", "best", "bounds", ""], rows


def side_rows(result: SizeResult) -> tuple[list[str], list[list[str]]]:
    """Head and rows of the limits at the best choice, each in its worst room air."""
    from nestwright.wording.figures import figure

    rows = [
        [
            side.name,
            figure(side.scaled_margin, 1, sign=True),
            figure(side.before, 1, sign=True, none="unknown"),
            figure(side.best_alone, 1, sign=True),
            f"{figure(side.room_temperature - 273.15, 1)} °C, {figure(side.room_relative_humidity * 100, 0)} %",
        ]
        for side in result.limits
    ]
    return ["limit", "margin", "now", "best alone", "worst room air"], rows


def trade_rows(trade: TradeOff) -> tuple[list[str], list[list[str]]]:
    """Head and rows of the trade between two limits."""
    from nestwright.wording.figures import figure

    rows = [
        [*p.values.values(), *(figure(m, 1, sign=True) for m in (p.first, p.second, p.worst))]
        for p in _few(trade.points)
    ]
    return [*trade.points[0].values, trade.first, trade.second, "worst of all"], rows


def _few(points: tuple[TradePoint, ...]) -> tuple[TradePoint, ...]:
    """At most nine points, the first and the last among them."""
    step = max(1, -(-(len(points) - 1) // 8))
    return points if len(points) <= 9 else (*points[:-1:step], points[-1])
