"""`nestwright alarms`: raise, tell, list, acknowledge and put off alarms."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nestwright.cli.record import AsJson, InWorkshop, acting, day_of, group, line_of_text, moment, tell, workshop_of
from nestwright.errors import InputError

if TYPE_CHECKING:
    from nestwright.workshop.alarms import Alarm
    from nestwright.workshop.folder import Workshop

__all__ = ["commands"]

commands = group("Check for alarms and send them; list them, acknowledge them, put them off.")

Number = Annotated[int, typer.Argument(help="Number of the alarm, as listed.", show_default=False)]
NoForecast = Annotated[
    bool, typer.Option("--no-forecast", help="Leave out what needs a forecast; its alarms stay as they are.")
]


@commands.command()
def check(
    no_forecast: NoForecast = False,
    no_send: Annotated[bool, typer.Option("--no-send", help="Raise and end alarms, but send nothing.")] = False,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Look at everything, raise and end alarms, and send those that are new or got worse. Meant for cron.

    Prints nothing when nothing changed. Leaves with exit code 1 when a notice could not be delivered; it stays owed and
    is tried again at the next check.
    """
    from nestwright.cli.looking import look_at
    from nestwright.cli.output import print_json
    from nestwright.workshop.alarms import kept_alarms, record_look
    from nestwright.workshop.database import writing
    from nestwright.workshop.notices import read_notices
    from nestwright.workshop.telling import tell_owed

    workshop = workshop_of(folder)
    notices = read_notices(workshop.folder)
    found = look_at(workshop, forecasts=not no_forecast, quiet=json, unattended=True)
    with writing(workshop.engine) as connection:
        changed = record_look(connection, found, notices.ways)
        known = {one.id: one for one in kept_alarms(connection, ended=True)}
    told = [] if no_send else tell_owed(workshop, notices)
    failed = [one.failure for one in told if one.failure]
    if json:
        document: dict[str, Any] = {k: [_document(known[i], workshop) for i in v] for k, v in changed.__dict__.items()}
        open_now = sum(one.ended is None for one in known.values())
        unread = [{"subject": s, "reason": r} for s, r in found.unread]
        print_json(document | {"open": open_now, "told": [one.to_dict() for one in told], "unread": unread})
    else:
        for word, rows in (("New", changed.raised), ("Worse", changed.worse), ("Again", changed.again)):
            for row in rows:
                print(f"{word}: {row}. {known[row].message}")
        for row in changed.ended:
            print(f"Ended: {row}. {known[row].message}")
        for one in told:
            if not one.failure:
                print(f"Sent by {one.way}: {one.alarms} {'alarm' if one.alarms == 1 else 'alarms'}")
        if changed.raised and not notices.ways:
            print("Nobody is told: alarms.toml sets up no mail and no webhook.")
    if failed:
        for line in failed:
            typer.echo(f"nestwright: not delivered, will be tried again: {line}", err=True)
        raise typer.Exit(1)


@commands.command("list")
def listed(
    ended: Annotated[bool, typer.Option("--ended", help="Those that have ended too.")] = False,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Alarms that are open: number, since when, what, and whether they were seen or put off."""
    from nestwright.cli.output import print_json
    from nestwright.workshop.alarms import kept_alarms
    from nestwright.workshop.database import reading

    workshop = workshop_of(folder)
    with reading(workshop.engine) as connection:
        found = kept_alarms(connection, ended=ended)
    if json:
        print_json({"alarms": [_document(one, workshop) for one in found]})
        return
    if not found:
        print("No alarm is open, as of the last `nestwright alarms check`.")
        return
    for one in found:
        _print_alarm(one, workshop)


@commands.command()
def ack(number: Number, folder: InWorkshop = None, json: AsJson = False) -> None:
    """Say that an alarm was seen: it is told again only if it gets worse."""
    from nestwright.workshop.alarms import acknowledge
    from nestwright.workshop.changes import now
    from nestwright.workshop.database import writing

    workshop = workshop_of(folder)
    with writing(workshop.engine) as connection:
        one = acknowledge(connection, number, now())
    tell(json, _document(one, workshop), f"Seen: {one.id}. {one.message}")


# "-2 h" is a span that cannot be, no option
@commands.command(context_settings={"ignore_unknown_options": True})
def snooze(
    number: Number,
    span: Annotated[list[str], typer.Argument(help="How long: 2h, 3 day, 30 min.", show_default=False)],
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Put an alarm off: it is told again after that time if its reason still holds, before only if it gets worse."""
    from nestwright.workshop.alarms import parse_span
    from nestwright.workshop.alarms import snooze as put_off
    from nestwright.workshop.changes import now
    from nestwright.workshop.database import writing

    workshop = workshop_of(folder)
    length, at = parse_span(" ".join(span)), now()
    with writing(workshop.engine) as connection:
        one = put_off(connection, number, at + round(1000 * length.total_seconds()), at)
    tell(json, _document(one, workshop), f"Put off until {moment(one.snoozed, workshop)}: {one.id}. {one.message}")


@commands.command()
def send(
    test: Annotated[bool, typer.Option("--test", help="Send a test by every way that is set up.")] = False,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Send what is still owed, without looking anew; with --test a test by mail and webhook."""
    from nestwright.cli.output import print_json
    from nestwright.workshop.notices import FILE, read_notices
    from nestwright.workshop.telling import tell_owed, tell_test

    workshop = workshop_of(folder)
    notices = read_notices(workshop.folder)
    if not notices.ways:
        raise InputError(
            "sets up no mail and no webhook",
            file=str(workshop.folder / FILE),
            allowed="a table [mail] or [webhook], see the guide on alarms",
        )
    told = tell_test(notices, workshop.folder.name) if test else tell_owed(workshop, notices)
    if json:
        print_json({"test": test, "told": [one.to_dict() for one in told]})
    else:
        for one in told:
            if not one.failure:
                print(f"Sent by {one.way}: {'a test' if test else one.alarms}")
        if not told:
            print("Nothing is owed.")
    for one in told:
        if one.failure:
            typer.echo(f"nestwright: not delivered: {one.failure}", err=True)
    if any(one.failure for one in told):
        raise typer.Exit(1)


@commands.command()
def refill(
    build: Annotated[str, typer.Argument(help="Serial of the build.", show_default=False)],
    days: Annotated[
        list[str] | None, typer.Argument(help='Days that its water lasts, "9" or "8 to 11".', show_default=False)
    ] = None,
    proof: Annotated[
        Path | None,
        typer.Option("--proof", help="Take the days from the JSON of `climate --json`.", show_default=False),
    ] = None,
    done: Annotated[bool, typer.Option("--done", help="It was filled.")] = False,
    amount: Annotated[str, typer.Option("--amount", help='With --done: how much, "150 mL".', show_default=False)] = "",
    date: Annotated[
        str | None, typer.Option("--date", help="Day, as 2026-01-31; default: today.", show_default=False)
    ] = None,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Tell how long the water of a build lasts, or that it was filled; else show what is known of it.

    Both are kept among what was measured on the build, so that `nestwright workshop undo` takes them back.
    """
    from nestwright.workshop.builds import find_build
    from nestwright.workshop.database import reading
    from nestwright.workshop.refills import parse_days, told_filled, told_lasts, water_of

    workshop = workshop_of(folder)
    if days and proof is not None:
        raise InputError("told twice", field="--proof", allowed="DAYS or --proof")
    if amount and not done:
        raise InputError("belongs to --done", field="--amount", found=repr(amount))
    every = parse_days(" ".join(days), "days") if days else None
    if proof is not None:
        every = _of_proof(proof)
    day = day_of(date, workshop)
    if every is not None or done:
        with acting(workshop, f"water of build {build}") as written:
            made = find_build(written.connection, build)
            if every is not None:
                told_lasts(written, made, every, day, f"by {proof.name}" if proof else "")
            if done:
                told_filled(written, made, day, line_of_text(amount, "--amount") if amount else "")
    with reading(workshop.engine) as connection:
        water = water_of(find_build(connection, build))
    span = None if water.every is None else [*water.every]
    result = {"build": build, "lasts_days": span, "filled": water.filled and water.filled.isoformat()}
    lasts = "not told"
    if water.every is not None:
        low, high = water.every
        lasts = f"{low:g} days" if low == high else f"{low:g} to {high:g} days"
    tell(json, result, f"Build {build}: water lasts {lasts}; last filled {water.filled or 'on a day not told'}")


def _of_proof(proof: Path) -> tuple[float, float]:
    import json

    from nestwright.workshop.refills import parse_days

    try:
        told = json.loads(proof.read_text("utf-8"))
        days = float(told["refill_days"])
    except OSError as error:
        raise InputError("cannot be read", file=str(proof), found=error.strerror or "") from None
    except (ValueError, KeyError, TypeError, RecursionError):
        raise InputError(
            "tells no days until a refill", file=str(proof), field="refill_days", allowed="the JSON of `climate --json`"
        ) from None
    return parse_days(f"{days:.3g}", "refill_days")


def _document(one: Alarm, workshop: Workshop) -> dict[str, Any]:
    from datetime import datetime

    from nestwright.workshop.changes import now

    def iso(at: int | None) -> str | None:
        return None if at is None else datetime.fromtimestamp(at / 1000, workshop.zone).isoformat(timespec="seconds")

    moments = ("raised", "seen", "ended", "acknowledged", "snoozed", "sent")
    told = {"id": one.id, "kind": one.kind, "message": one.message, "state": one.state(now())}
    return told | {name: iso(getattr(one, name)) for name in moments}


def _print_alarm(one: Alarm, workshop: Workshop) -> None:
    from nestwright.cli.looking import wrapped
    from nestwright.workshop.changes import now

    state = one.state(now())
    more = f", until {moment(one.snoozed, workshop)}" if state == "snoozed" else ""
    if state == "ended":
        more = f" {moment(one.ended, workshop)}"
    told = "told" if one.sent is not None else "not told yet"
    print(wrapped(f"{one.id}. ", one.message))
    print(wrapped("   ", f"since {moment(one.raised, workshop)}; {state}{more}; {told}"))
