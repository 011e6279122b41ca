"""A proof in words and tables, for the terminal."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from nestwright.cli.as_built import print_built
from nestwright.cli.output import (
    CAUTIONS,
    console,
    figure,
    heading,
    plain,
    significant,
    table,
)
from nestwright.wording.as_built import build_line, built_verdict
from nestwright.wording.proof import REFILL_YEARS, dew_text, limit_rows, margin_text, refill_days

if TYPE_CHECKING:
    from nestwright.climate.results import Proof, YearProof

__all__ = ["print_proof", "print_year", "proof_sentence", "water_and_heat"]


def print_proof(proof: Proof, built: dict[str, Any] | None = None) -> None:
    """Print a steady proof; `built` is what `as_built` tells of a build."""
    _verdict_and_air(proof, "", built)
    _limits_and_grounds(proof, year=False, built=built)
    _closing(proof)


def print_year(result: YearProof, built: dict[str, Any] | None = None) -> None:
    """Print the proof of a run: means of the run, limits at their worst hour, hours held, worst weeks."""
    _verdict_and_air(result.mean, ", mean of the run", built)
    _limits_and_grounds(result.mean, year=True, built=built)
    out = console()
    out.print(heading("The run"))
    hours = figure(float(result.time[-1]) / 3600, 0)
    begin = f" from {result.start[:10]}" if result.start else ""
    out.print(f"{hours} hours{begin}; refilled {result.refills} times; dry for {figure(result.dry_hours, 0)} h")
    if result.worst_weeks:
        rows = [
            [w.date[:10], w.limit, f"{figure(w.hours_outside, 0)} h", _week_margin(result, w.limit, w.worst_margin)]
            for w in result.worst_weeks
        ]
        out.print(heading("Worst weeks"))
        out.print(table(["week of", "limit", "outside", "worst margin"], rows, left=(0, 1)))
    else:
        out.print("No week with an hour outside a limit.")
    _closing(result.mean)


def _verdict_and_air(proof: Proof, when: str, built: dict[str, Any] | None) -> None:
    out = console()
    out.print(f"[bold]{plain(proof.habitat)}[/bold], revision {plain(proof.revision)}, for {plain(proof.species)}")
    temperature, humidity = proof.room_temperature - 273.15, proof.room_relative_humidity * 100
    out.print(f"Room {plain(proof.room)}: {figure(temperature, 1)} °C, {figure(humidity, 0)} % RH{when}")
    if built is not None:
        out.print(plain(build_line(built, proof.revision)))
    word, rest = proof_sentence(proof)
    as_built = built_verdict(built)
    out.print(f"\n{'As designed: ' if as_built else ''}[bold]{word}[/bold] {plain(rest)}")
    if as_built:
        out.print(f"As built: {plain(as_built)}")
    out.print(heading(f"Air of each chamber{when}"))
    out.print(_air(proof))
    out.print("[dim]Dew margin: the coldest wall less the air's dew point; below 0 that wall is wet.[/dim]")
    if any(zone.dew_margin for zone in proof.zones):
        out.print(heading(f"Dew margin on each wall{when}"))
        out.print(_walls(proof))
    out.print(heading("Water and heat"))
    for line in water_and_heat(proof):
        out.print(line)


def _limits_and_grounds(proof: Proof, *, year: bool, built: dict[str, Any] | None) -> None:
    out = console()
    out.print(heading("Limits, each at its worst hour" if year else "Limits"))
    head, rows = limit_rows(proof, year=year)
    out.print(table(head, rows, left=(0, 1, 5)))
    out.print("[dim]Interval: what the uncertain inputs leave open. Not sure: the verdict turns within it.[/dim]")
    if built is not None:
        print_built(built)
    if rows := _rests_on(proof):
        out.print(heading("Judgement values that the verdicts rest on"))
        out.print(table(["value without a published source", "moves"], rows, left=(0, 1)))
    if rows := _judged_bands(proof):
        out.print(heading("Bands that are a judgement"))
        out.print(table(["limit", "why this band"], rows, left=(0, 1)))


def _closing(proof: Proof) -> None:
    out = console()
    out.print(heading("Balances: what does not close, as a share of what passed through"))
    out.print("  ".join(f"{name} {significant(abs(value), 1)}" for name, value in proof.balances.items()))
    for note in proof.notes:
        out.print(f"Note: {plain(note)}")
    out.print(heading("Cautions"))
    if proof.heater_duty is not None:
        out.print(CAUTIONS["heater"])
    out.print(CAUTIONS["law"])


def proof_sentence(proof: Proof) -> tuple[str, str]:
    """The verdict, and a sentence on which limit is the first to go and by how much."""
    first = proof.first_limit
    if first is None:
        return "Nothing proved.", "No limit was set."
    margin = f"{first.name} ({margin_text(first)})"
    sure = all(limit.sure for limit in proof.limits)
    unsure = "" if sure else " Some verdicts turn within the uncertainty of the inputs."
    if proof.holds:
        return "Holds.", f"The first limit to go is {margin}.{unsure}"
    failed = sum(not limit.held for limit in proof.limits)
    return "Does not hold.", f"{failed} of {len(proof.limits)} limits fail; the worst is {margin}.{unsure}"


def _air(proof: Proof) -> Any:
    rows = []
    for zone in proof.zones:
        wall = min(zone.dew_margin, key=lambda name: zone.dew_margin[name], default=None)
        rows.append(
            [
                zone.name,
                zone.role,
                figure(zone.temperature - 273.15, 1),
                figure(zone.relative_humidity * 100, 1),
                significant(zone.vapour_deficit, 2),
                figure(zone.co2 * 100, 2),
                figure(zone.o2 * 100, 2),
                "" if wall is None else f"{dew_text(zone.dew_margin[wall])} ({wall})",
            ]
        )
    head = ["chamber", "use", "°C", "RH %", "deficit Pa", "CO2 %", "O2 %", "least dew margin K"]
    return table(head, rows, left=(0, 1))


def _walls(proof: Proof) -> Any:
    rows = []
    for zone in proof.zones:
        for wall, margin in zone.dew_margin.items():
            film = zone.film.get(wall, 0.0) * 1000
            wet = f"{significant(film, 2)} g of water" if film >= 0.01 else "wet" if margin < 0 else "dry"
            rows.append([zone.name, wall, dew_text(margin), wet])
    return table(["chamber", "wall", "K", "state"], rows, left=(0, 1, 3))


def water_and_heat(proof: Proof) -> list[str]:
    """Lines on water used, refilling, drip and heater."""
    used = proof.water_rate * 86.4e6
    if used >= 0:
        lines = [f"Water used: {significant(used)} g a day"]
    else:
        lines = [f"Water used: none; the water bodies gain {significant(-used)} g a day"]
    days = refill_days(proof.refill_time)
    if days is None:
        lines.append("Refill: never dry")
    elif math.isinf(days):
        lines.append(f"Refill: not within {REFILL_YEARS} years")
    else:
        lines.append(f"Refill: every {significant(days)} days")
    drip = proof.drip_rate * 86.4e6
    lines.append(f"Drip onto the garden: {'no' if drip < 0.01 else f'yes, {significant(drip)} g a day'}")
    if proof.heater_duty is not None:
        duty = figure(proof.heater_duty * 100, 0)
        lines.append(f"Heater: {significant(proof.heater_power)} W on average, {duty} % of its power")
    else:
        lines.append("Heater: none")
    return lines


def _week_margin(result: YearProof, name: str, margin: float) -> str:
    from dataclasses import replace

    limit = next((one for one in result.mean.limits if one.name == name), None)
    return figure(margin, 2, sign=True) if limit is None else margin_text(replace(limit, margin=margin))


def _rests_on(proof: Proof) -> list[list[str]]:
    """One row a judgement value: its name, and the limits that it moves noticeably."""
    moved: dict[str, list[str]] = {}
    for limit in proof.limits:
        for name in limit.rests_on:
            moved.setdefault(name, []).append(limit.name)
    return [[name, "; ".join(limits)] for name, limits in moved.items()]


def _judged_bands(proof: Proof) -> list[list[str]]:
    return [[limit.name, limit.source] for limit in proof.limits if limit.mark == "judgement"]
