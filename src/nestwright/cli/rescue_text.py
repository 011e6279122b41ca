"""A rescue as text: the verdict in sentences, tables whose ranges stay on one line, and what it all rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nestwright.charts.rescue_words import chance, count, count_range, ends, volume, volume_range, whole_up
from nestwright.colony.rescue_verdict import reaches
from nestwright.wording.ranges import span_of_days
from nestwright.wording.values import in_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console
    from rich.table import Table

    from nestwright.colony.results import Rescue, RescueCase

__all__ = ["answer", "columns_of", "print_rescue", "what_came", "workers_for"]

EXACT = 9
"""Digits of a count that was stated: all."""
STAGES = (("egg", "eggs"), ("larva", "larvae"), ("pupa", "pupae"))
NOT_SHOWN = ("pulls through:", "as good as the best:")
"""Beginnings of notes on what the screen does not show without a queen."""
GIVEN, CHANCE = "garden given", "pulls through"


def print_rescue(result: Rescue) -> None:
    """Print a rescue: what came, the verdict, the amounts, what it rests on, and what is always to be minded."""
    from nestwright.cli.output import CAUTIONS, console, heading, plain

    out = console()
    out.print(f"[bold]{plain(result.species)}[/bold]")
    for line in what_came(result):
        out.print(line)
    out.print()
    for line in answer(result):
        out.print(line)
    out.print(heading(f"Donor garden, over {span_of_days(result.days)}: middle, and the range of 8 in 10"))
    for number, part in enumerate(tables_of(result, out)):
        if number:
            out.print()
        out.print(part)
    if result.queen:
        beside = " of it and of the garden there is" if result.came else ""
        out.print(
            f"[dim]To tend it: workers at which each has as much as it can tend{beside}; what is beyond is lost.[/dim]"
        )
    if any(over(c, result) for c in result.cases):
        out.print("[dim]*: more than the workers that came can probably tend; give less, or in portions.[/dim]")
    if len(result.cases) > 1 and result.queen:
        out.print("[dim]=: as good as the best, as far as these runs can tell.[/dim]")
    out.print(heading("What it rests on"))
    out.print(f"Judgement that moves it: {', '.join(map(in_words, result.judgements)) or 'no single value'}")
    for note in result.notes:
        if not result.queen and note.startswith(NOT_SHOWN):
            continue
        out.print(f"Note: {plain(note)}")
    out.print(heading("Cautions"))
    out.print(CAUTIONS["law"])


def what_came(result: Rescue) -> list[str]:
    """The ants and the garden that there are: as stated, or as a record leaves them, with their ranges."""
    queen = "queen" if result.queen else "no queen"
    if result.came is None:
        brood = ", ".join(of(n, *names) for n, names in zip(result.brood, STAGES, strict=True))
        return [f"Came, as stated: {queen}, {of(result.workers, 'worker', 'workers')}", f"Brood, as stated: {brood}"]
    came = result.came
    lines = [
        f"By the record, with the range of 8 in 10: {queen}, {count_range(*came.workers)} workers",
        f"Garden that it has, by the record: {volume_range(*came.garden)}",
        "Brood, by the model:",
    ]
    for (_, stage), band, seen in zip(STAGES, came.brood, came.last_seen, strict=True):
        told = f"last seen on {seen}, not counted" if seen else "not seen"
        lines.append(f"  {stage}: {count_range(*band)}; {told}")
    return lines


def answer(result: Rescue) -> list[str]:
    """The verdict in sentences, the first of them in bold."""
    case = next((c for c in result.cases if c.garden == result.recommended), None)
    if case is None:
        return ["No amounts were tried."]
    if not result.queen:
        return without_queen(result, case)
    alone = len(result.cases) == 1
    best = max(c.pulls_through for c in result.cases)
    if result.verdict == "none needed":
        has = volume_range(*result.came.garden) if result.came else "garden of its own"
        lines = [
            f"[bold]None needed: it has about {has}.[/bold]",
            f"Without any donor garden its chance is {ranged_chance(case)}; no amount tried does better by more than "
            "chance.",
        ]
    elif result.verdict == "no difference":
        least = min(c.pulls_through for c in result.cases)
        both = chance(least) if chance(least) == chance(best) else f"{chance(least)} to {chance(best)}"
        lines = [
            "[bold]No difference between the amounts.[/bold]",
            f"The chance is {both} with each of them; the least, {volume(case.garden)}, does as well as any. "
            + ("" if case.garden == 0 else "Less was not tried."),
        ]
    elif alone:
        lines = [f"[bold]With {volume(case.garden)} the chance is {ranged_chance(case)}.[/bold]"]
    else:
        reached = case.garden == result.enough
        what = "reaches nine chances in ten" if reached else "does as well as any"
        lines = [f"[bold]{volume(case.garden)} is the least amount that {what}: {ranged_chance(case)}.[/bold]"]
    if result.verdict == "least":
        lines[0] += f" To tend it takes {workers_for(case)}."
        if over(case, result):
            lines.append(
                "That is more than the workers that came can probably tend; the rest is lost and can mould: give it in "
                "portions."
            )
        elif case is result.cases[-1] and not alone:
            lines.append("It is the largest amount tried; more may do better.")
        lines += what_more_adds(result, case)
    elif best < 0.9:
        lines.append("What keeps the chance from being higher is not the amount of garden.")
    lines[1:1] = half_of_them(result, case)
    if any(note.startswith("founding anew") for note in result.notes):
        lines.append(
            "[bold]This rests on the queen beginning anew without workers, which is judgement[/bold]: see the notes."
        )
    return [line.strip() for line in lines]


def what_more_adds(result: Rescue, case: RescueCase) -> list[str]:
    """That no amount gives nine chances in ten; else how little an amount beyond the one that does adds."""
    if result.enough is None:
        return ["None of the amounts gives nine chances in ten."]
    more = [c for c in result.cases if c.garden > case.garden]
    if not more:
        return []
    best = next(c for c in more if chance(c.pulls_through) == chance(max(m.pulls_through for m in more)))
    if chance(best.pulls_through) == chance(case.pulls_through) or best.pulls_through <= case.pulls_through:
        return ["More adds nothing that these runs can tell."]
    beyond = ", more than the workers that came can probably tend" if over(best, result) else ""
    return [f"More adds little: {chance(best.pulls_through)} at {volume(best.garden)}{beyond}."]


MOSTLY = 0.5
"""Share of the failures from which it is said that the criterion makes them: most of them."""


def half_of_them(result: Rescue, case: RescueCase) -> list[str]:
    """That most of what counts as failure lives, with fewer than half of the workers that came."""
    failed = 1.0 - case.pulls_through
    if case.lives_on is None or reaches(case.pulls_through) or case.lives_on - case.pulls_through < MOSTLY * failed:
        return []
    return [
        "[bold]The chance is mostly that of keeping half of the workers that came[/bold]: "
        f"{chance(case.lives_on)} live on with garden and brood, if with fewer."
    ]


def without_queen(result: Rescue, case: RescueCase) -> list[str]:
    """How long a colony without a queen lasts."""
    given = "Without donor garden" if case.garden == 0 else f"With {volume(case.garden)}"
    lines = [
        "[bold]Without a queen it cannot go on.[/bold]",
        f"{given} the last worker lives for {in_days(case.workers_last, result.days)}, the garden lasts for "
        f"{in_days(case.garden_lasts, result.days)}.",
    ]
    if len(result.cases) > 1:
        less_is_worse = any(c.garden < case.garden for c in result.cases)
        lines.append(
            "Less makes the workers die sooner, more makes no difference that can be told."
            if less_is_worse
            else "With none of the other amounts do the workers live longer by more than chance."
        )
    return lines


def of(n: float, one: str, many: str) -> str:
    """A stated count with its noun."""
    return f"{count(n, EXACT)} {one if round(n) == 1 else many}"


def workers_for(case: RescueCase) -> str:
    """How many workers tend an amount, rounded up."""
    low, middle, high = (whole_up(x) for x in case.held_by)
    if high == 0:
        return "no worker, the queen can do it alone" if case.garden else "no worker"
    return f"{count_range(low, middle, high)} {'worker' if middle == high == 1 else 'workers'}"


def over(case: RescueCase, result: Rescue) -> bool:
    """Whether an amount is more than the workers can probably tend."""
    return case.held_by[1] > max(result.workers, 1)


def columns_of(result: Rescue) -> dict[str, list[str]]:
    """A column for each thing told, a cell for each amount."""
    if not result.queen:
        return queenless_columns(result)
    made: dict[str, list[str]] = {
        GIVEN: [(volume(c.garden) if c.garden else "none") + "*" * over(c, result) for c in result.cases]
    }
    several = len(result.cases) > 1
    made[CHANCE] = [ranged_chance(c) + (" =" if c.as_good else "  ") * several for c in result.cases]
    made["to tend it"] = [count_range(*map(whole_up, c.held_by)) for c in result.cases]
    made["next worker, day"] = [short_days(c.first_workers, result.days) for c in result.cases]
    made["workers at end"] = [count_range(*c.workers_at_end) for c in result.cases]
    made["garden at end"] = [volume_range(*c.garden_at_end) for c in result.cases]
    return made


def queenless_columns(result: Rescue) -> dict[str, list[str]]:
    """How long workers and garden last without a queen, in one table: amounts that do not differ by more than chance
    share a row, with the figures of the least."""
    born = any(c.first_workers[0] is not None for c in result.cases)
    rows: list[tuple[list[RescueCase], list[str]]] = []
    for c in result.cases:
        told = [short_days(days, result.days) for days in (c.workers_last, c.garden_lasts)]
        told += [short_days(c.first_workers, result.days)] if born else []
        same = bool(rows) and (rows[-1][1] == told or (rows[-1][0][0].as_good and c.as_good))
        if same and rows[-1][1][2:] == told[2:]:
            rows[-1][0].append(c)
        else:
            rows.append(([c], told))

    def given(cases: list[RescueCase]) -> str:
        named = [volume(c.garden) if c.garden else "none" for c in cases]
        named = [name + "*" * over(c, result) for name, c in zip(named, cases, strict=True)]
        return " to ".join(named if len(named) == 1 else [named[0], named[-1]])

    names = ["workers last, days", "garden lasts, days", *(["next worker, day"] if born else [])]
    cells = {name: [told[i] for _, told in rows] for i, name in enumerate(names)}
    return {GIVEN: [given(cases) for cases, _ in rows], **cells}


def tables_of(result: Rescue, out: Console) -> list[Table]:
    """The columns as one table, or as two and more where one is wider than the screen: no cell is broken."""
    from rich.measure import Measurement

    columns = columns_of(result)
    # what a table would take of a screen without end: a measure is otherwise cut to the width that there is
    endless = out.options.update(width=10_000)
    made: list[list[str]] = [[]]
    for name in (name for name in columns if name != GIVEN):
        tried = [*made[-1], name]
        if made[-1] and Measurement.get(out, endless, one_table(columns, tried)).maximum > out.width:
            made.append([name])
        else:
            made[-1] = tried
    return [one_table(columns, names) for names in made]


def one_table(columns: dict[str, list[str]], names: Sequence[str]) -> Table:
    """The amounts with the columns named."""
    from nestwright.cli.output import table

    chosen = [GIVEN, *names]
    made = table(chosen, zip(*(columns[name] for name in chosen), strict=True))
    for column in made.columns:
        column.no_wrap = True
    return made


def ranged_chance(case: RescueCase) -> str:
    """A chance with its range, in percent."""
    low, high = case.interval
    shown = [f"{100 * x:.0f}" for x in (low, case.pulls_through, high)]
    told = chance(case.pulls_through)
    if shown[0] == shown[2]:
        return told
    return f"{told} ({ends(shown[0], shown[2], shown[1] == shown[0], shown[1] == shown[2])})"


def short_days(days: Sequence[float | None], horizon: int) -> str:
    """Days with their range; "over 120" where it has not come by the end of a look ahead of 120 days."""
    shown = [f"over {horizon}" if d is None else f"{d:.0f}" for d in days]
    return shown[1] if shown[0] == shown[2] else f"{shown[1]} ({shown[0]} to {shown[2]})"


def in_days(days: Sequence[float | None], horizon: int) -> str:
    """Days with their range, in words."""
    middle, *ends = short_days(days, horizon).split(" (")
    return " (".join([f"{middle} {'day' if middle == '1' else 'days'}", *ends])
