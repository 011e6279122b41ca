"""The command `nestwright`: which commands there are, and what becomes of their errors.

A command's module is imported when the command is called and not before, so that help and mistakes are
answered at once. Its name is that of its module; the function in it has the same name.
"""

from __future__ import annotations

import codecs
import errno
import gc
import importlib
import os
import sys
from io import TextIOWrapper
from typing import Any

import typer
from typer.core import TyperGroup

from nestwright import __version__
from nestwright.cli.once import Commands
from nestwright.errors import InputError, nearest_name
from nestwright.extras import missing

__all__ = ["COMMANDS", "app", "load", "run"]

COMMANDS = {
    "check": "Read a habitat, colony, parcel, room or price file and say what is wrong with it, with file and line.",
    "climate": "Prove a habitat's climate in a room: each limit, its margin and its verdict.",
    "years": "Prove many habitats in many rooms over their records, on all cores or on a cluster.",
    "window": "Map the room temperatures and humidities at which a habitat holds its limits.",
    "size": "Find the free sizes that give the largest worst margin.",
    "section": "Draw the cross-section of a habitat, with humidity and flows.",
    "forecast": "Forecast a colony from its record: garden, workers, leaves, waste, and when the bell is full.",
    "plan": "Plan the next bells and chambers: which size, when, and what else would have cost.",
    "rescue": "Say how much donor garden a colony that lost its garden needs, and its chance with it.",
    "diagnose": "Say whether something is wrong with a colony, since when, and the likeliest cause.",
    "explain": "Say which unknown a proof or a forecast hangs on most, hence what to measure next.",
    "workshop": "Make a workshop, show it, its history, and take back what was just recorded.",
    "colony": "Keep colonies: add, list, show, their bells, moves and end.",
    "parcel": "Carry a parcel of garden and ants along its way, on paper: limits, harm, oxygen.",
    "parcels": "Keep parcels: sent, seen, arrived; learn their delays; what to do with one that came.",
    "build": "Keep builds: serial numbers, measured values, quality checks.",
    "parts": "Turn a habitat into its parts: list, checks, cautions, files for printer, laser and machinist.",
    "cost": "Say what a habitat costs to make in batches, its price, and what moves it most.",
    "batch": "Plan a batch: plates, sheets, machines by day, purchases, serials, quality sheets.",
    "caresheet": "Write a care sheet for a buyer, from a design's own figures, in their language.",
    "dossier": "Write a design's dossier: drawing, proof, and the record of its builds and colonies.",
    "sales": "Keep sales: buyers, what they have and say, returns, recalls, stock; export or erase a buyer.",
    "visit": "Record a visit to a colony in one line.",
    "today": "Say what to do today over all colonies and builds, in order and why.",
    "calendar": "Write tasks, refills, visits due and forecast dates as a file for any calendar.",
    "serve": "Serve the workshop as a page: bench on a large screen, visit in the hand.",
    "alarms": "Check for alarms and send them; list them, acknowledge them, put them off.",
    "backup": "Copy the whole workshop into one verified file, or restore it.",
    "export": "Write the whole record as open files, or make a workshop from them.",
    "listen": "Take live readings from an MQTT broker, or posted over HTTP, into the record.",
    "dryrun": "Fit an empty build's openings and block to its loggers: does it behave as designed?",
    "trial": "Compare the revisions of a design by the colonies that lived in their builds.",
    "room": "Build a room's year from a weather file, a logger file or fixed values.",
    "species": "Show what a species needs, each number with its source.",
    "readings": "Keep readings of loggers: import files, show channels, time in a band.",
    "sensor": "Trust sensors: calibrate them over salts; their drift and when they are due.",
    "photo": "Measure a garden from a photograph, or print the marker sheet for it.",
    "demo": "Copy the example workshop, prove an example over a real year and draw it.",
    "schema": "Print the JSON Schema of the habitat file, the colony file or the parcel file.",
}
"""Command to its one line of help, in the order of a builder's work."""

DEBUG = "NESTWRIGHT_DEBUG"


def load(name: str) -> Any:
    """The command object of one command, or of a group of them; imports its module."""
    module = importlib.import_module(f"nestwright.cli.{name}")
    if hasattr(module, "commands"):
        return typer.main.get_group(module.commands)
    one = Commands()
    one.command(name)(getattr(module, name))
    return typer.main.get_command(one)


class _Late(TyperGroup):
    """A group of commands that are imported when they are called."""

    def list_commands(self, ctx: Any) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        if cmd_name not in COMMANDS:
            raise InputError(
                "there is no such command",
                found=repr(cmd_name),
                allowed=", ".join(COMMANDS),
                nearest=nearest_name(cmd_name, COMMANDS),
            )
        return load(cmd_name)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


app = typer.Typer(cls=_Late, add_completion=False, rich_markup_mode=None, no_args_is_help=True)


def _version(wanted: bool) -> None:
    if wanted:
        print(f"nestwright {__version__}")
        raise typer.Exit


@app.callback()
def nestwright(
    version: bool = typer.Option(False, "--version", help="Show the version.", callback=_version, is_eager=True),
) -> None:
    """Will this habitat hold my garden's climate, in my room and in the buyer's, all year?

    Every command takes --json for its result as data, and --help for its options.
    """


def run(arguments: list[str] | None = None) -> None:
    """Run the program and leave with its exit code.

    0 done (whatever the verdict), 1 a fault of the program, 2 input that cannot be used, 130 stopped by the user.
    """
    codecs.register_error("by number", _by_number)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="by number")
    # a command lives for seconds and makes few cycles: looking for them all through its imports costs a tenth of one
    gc.set_threshold(200_000)
    sys.exit(_outcome(arguments))


def _by_number(error: UnicodeError) -> tuple[str, int]:
    """What a stream cannot have, such as "°" one of ASCII, as JSON escapes it: that does not end the command."""
    from json import dumps

    assert isinstance(error, UnicodeEncodeError)
    return dumps(error.object[error.start : error.end])[1:-1], error.end


PLACE_FAULTS = (PermissionError, FileExistsError, FileNotFoundError, NotADirectoryError, IsADirectoryError)
"""Faults of the place a file was to be read from or written to, which the user can mend."""


def _outcome(arguments: list[str] | None) -> int:
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w")  # noqa: SIM115
    if sys.stdout is None:
        _say("output: cannot be written; found it closed")
        return 2
    told = sys.argv[1:] if arguments is None else arguments
    as_json = "--json" in told[: told.index("--") if "--" in told else None]
    try:
        code = typer.main.get_command(app)(arguments, prog_name="nestwright", standalone_mode=False)
        # The group itself turns an interrupt into this code and says nothing.
        return _stopped() if code == 130 else code if isinstance(code, int) else 0
    except InputError as error:
        return _refused(error, as_json)
    except ModuleNotFoundError as error:
        absent = missing(error.name or "")
        return _fault(error) if absent is None else _refused(absent, as_json)
    except (KeyboardInterrupt, typer.Abort):
        return _stopped()
    except SystemExit as left:
        # the command line library leaves so when the reader (head, less) has enough, and keeps the streams quiet
        return 0 if type(sys.stdout).__name__ == "PacifyFlushWrapper" else int(left.code or 0)
    except BrokenPipeError:
        _no_output()
        return 0
    except OSError as error:
        if error.errno == errno.EPIPE:
            return 0
        if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
            full = InputError("cannot be written", file=error.filename or "output", found=error.strerror or "")
            return _refused(full, as_json and bool(error.filename))
        if isinstance(error, PLACE_FAULTS):
            file = error.filename or "file"
            place = InputError("cannot be read or written here", file=str(file), found=error.strerror or "")
            return _refused(place, as_json)
        return _fault(error)
    except Exception as error:
        # Wrong options come as the command line library's own errors, which carry a message meant for people.
        if not (callable(getattr(error, "format_message", None)) and hasattr(error, "exit_code")):
            return _fault(error)
        message = str(error.format_message())  # type: ignore[attr-defined]
        where = getattr(getattr(error, "ctx", None), "command_path", "")
        if message.startswith("Usage:"):
            print(message)
            return 0
        return _refused(InputError(message + (f" (see {where} --help)" if where else "")), as_json)


def _refused(error: InputError, as_json: bool) -> int:
    """Input that cannot be used: in words, and where the result is wanted as data, as data too."""
    _say(str(error))
    if as_json:
        from nestwright.cli.faults import print_faults

        try:
            print_faults(error)
        except OSError:  # the words are told, and data goes nowhere here
            _no_output()
    return 2


def _no_output() -> None:
    # The reader (head, less) has enough; that is no fault. Python would complain again at exit.
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _stopped() -> int:
    _say("stopped; no file was left half-written")
    return 130


def _fault(error: Exception) -> int:
    if os.environ.get(DEBUG):
        raise error
    text = " ".join(str(error).split()) or "no further message"
    _say(f"a fault in the program: {type(error).__name__}: {text} (set {DEBUG}=1 to see where)")
    return 1


def _say(message: str) -> None:
    # what a file holds must not steer the terminal, nor flood it
    clean = "".join(c if c.isprintable() or c == "\n" else "?" for c in message)
    clean = clean if len(clean) < 4000 else clean[:4000] + " …"
    # several faults are so many lines of one shape
    print("\n".join(f"nestwright: {line}" for line in clean.split("\n")), file=sys.stderr)
