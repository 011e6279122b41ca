"""A dry run in words and tables, for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nestwright.cli.output import CAUTIONS, console, decimals_within, figure, heading, plain, significant, table

if TYPE_CHECKING:
    from nestwright.climate.dry_run_results import DryRun, MarginShift, PartResult

__all__ = ["GAS_CAUTION", "print_dry_run"]

GAS_CAUTION = (
    "Tracer gas: CO2 in a closed or low room smothers without warning; let in millilitres, not litres, air the room "
    "and keep a CO2 alarm. Dry ice burns the skin and bursts what is closed over it: never seal it in. Let no ant in "
    "before the air is as the room's again."
)
LITTLE = 30.0
"""A part of which the readings took away less than so many % of the prior's variance is not known by itself."""


def print_dry_run(result: DryRun) -> None:
    """Print a dry run: verdict first, then what it rests on."""
    out = console()
    out.print(f"[bold]{plain(result.habitat)}[/bold], revision {plain(result.revision)}, empty")
    begun = "block filled and closed at the first reading" if result.begun == "filled" else "closed long before"
    out.print(
        f"{figure(result.hours, 1)} h from {plain(result.start[:16])}, {result.readings} readings used, {begun}; "
        f"room: {plain(result.room)}"
    )
    out.print()
    for line in verdict_lines(result):
        out.print(line)
    out.print(heading("How it behaves beside the design (80 % interval)"))
    rows = [
        [
            a.name,
            _times(a.low, a.middle, a.high) if a.words[1] != "leaks" else "no opening",
            _chance(a.within),
            f"leaks {_chance(a.above)}"
            if a.words[1] == "leaks"
            else f"{a.words[0]} {_chance(a.below)}, {a.words[1]} {_chance(a.above)}",
        ]
        for a in result.aspects
    ]
    out.print(table(["", "times the design", "as designed", "or"], rows, left=(0, 3)))
    if result.causes and result.verdict != "as designed":
        from nestwright.climate.dry_run_results import told

        out.print(heading("Which part makes the difference"))
        out.print(table(["part", "chance"], [[told(c.part), _chance(c.chance)] for c in result.causes[:8]]))
    _parts(result)
    if result.decays:
        out.print(heading("Decay of the tracer, by itself (ASTM E741)"))
        for d in result.decays:
            width = decimals_within(d.low * 3600, d.high * 3600, 3)
            out.print(
                f"{plain(d.zone)}: {figure(d.rate * 3600, width)} air changes an hour "
                f"({figure(d.low * 3600, width)} to {figure(d.high * 3600, width)}), {d.readings} readings from hour "
                f"{figure(d.start / 3600, 1)}"
            )
            if not d.single:
                out.print("[dim]  not one exponential: the chamber trades air with others; trust the fit instead[/dim]")
    if result.limits:
        out.print(heading("What it means for the proof, at the mean of this room"))
        rows = [[m.name, *_margins(m), _chance(m.held)] for m in result.limits]
        out.print(table(["limit", "margin designed", "margin fitted", "held"], rows))
        out.print("[dim]By the build's factors alone; what else is uncertain, `nestwright climate` tells.[/dim]")
    for note in result.notes:
        out.print(f"Note: {plain(note)}")
    out.print("Tolerances, sizes of faults and chances before the test are judgements: data/dry_run.toml.")
    out.print(heading("Cautions"))
    out.print(GAS_CAUTION)
    out.print(CAUTIONS["heater"])
    out.print(CAUTIONS["law"])


def verdict_lines(result: DryRun) -> list[str]:
    """The verdict in one to three lines."""
    if not result.sure:
        lines = [f"[bold]Cannot tell.[/bold] Likeliest: {plain(result.leaning)} ({_chance(result.chance)})."]
    elif result.verdict == "as designed":
        lines = [f"[bold]Behaves as designed[/bold] ({_chance(result.chance)})."]
    else:
        lines = [f"[bold]Not as designed:[/bold] {plain(result.verdict)} ({_chance(result.chance)})."]
    if result.cause:
        lines.append(f"Best explained by: {plain(result.cause)}.")
    return lines


def _parts(result: DryRun) -> None:
    from nestwright.climate.dry_run_results import told

    out = console()
    out.print(heading("Parts (80 % interval)"))
    rows = [[told(p.name), p.kind, _part(p), _known(p)] for p in result.parts]
    out.print(table(["part", "kind", "times the design", "read from the data"], rows, left=(0, 1, 3)))
    for s in result.sums:
        names = ", ".join(map(told, s.parts))
        out.print(f"Only told together: {plain(names)}: {_times(s.low, s.middle, s.high)} times their design.")


def _part(p: PartResult) -> str:
    if p.kind != "leak":
        return _times(p.low, p.middle, p.high)
    if p.high < 0.05e-6:
        return "none found"
    low, high = p.low * 1e6, p.high * 1e6
    return f"{significant(low, 2)} to {significant(high, 2)} mm2" if low > 0.05 else f"up to {significant(high, 2)} mm2"


def _known(p: PartResult) -> str:
    return "not by itself" if p.known * 100 < LITTLE else "well" if p.known > 0.9 else "in part"


def _times(low: float, middle: float, high: float) -> str:
    width = decimals_within(low, high, 2)
    return f"{figure(middle, width)} ({figure(low, width)} to {figure(high, width)})"


def _chance(chance: float) -> str:
    """A chance in whole per cent, never rounded up to certainty: it rests on judgements."""
    return "under 1 %" if chance < 0.01 else "over 99 %" if chance > 0.99 else f"{chance * 100:.0f} %"


def _margins(m: MarginShift) -> tuple[str, str]:
    d = m.to_dict()
    unit = f" {d['unit']}" if d["unit"] != "ratio" else ""
    most = {"temperature": 1, "relative_humidity": 1}.get(m.quantity, 2)
    width = decimals_within(d["margin_low"], d["margin_high"], most)
    low, middle, high = (figure(d[k], width, sign=True) for k in ("margin_low", "margin_fitted", "margin_high"))
    fitted = middle if low == high else f"{middle} ({low} to {high})"
    return figure(d["margin_designed"], most, sign=True) + unit, fitted + unit
