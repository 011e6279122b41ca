"""`nestwright serve`: the page, for the bench and for the phone in the ant room."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from nestwright.cli.record import AsJson, InWorkshop, tell, workshop_of

__all__ = ["serve"]


def serve(
    port: Annotated[
        int | None,
        typer.Option("--port", min=0, max=65535, help="Port; default 7350, or a free one.", show_default=False),
    ] = None,
    lan: Annotated[
        bool, typer.Option("--lan", help="Let paired phones on your own network in too; not encrypted.")
    ] = False,
    show: Annotated[bool, typer.Option("--open", help="Open the page in the browser.")] = False,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Serve the workshop as a page in the browser, on this computer only, until Ctrl-C.

    With --json the addresses are told as JSON, once. With --lan it serves phones and tablets too that were paired by a
    code under Settings, on a network that you trust.
    """
    workshop = workshop_of(folder)
    _ = workshop.engine  # a record that cannot be opened is told now
    from nestwright.web.serving import prepare, run

    served = prepare(workshop, port, lan=lan)
    lines = [f"The page is at {served.addresses[-1]}"]
    if lan:
        lines.append(f"On paired devices: {served.addresses[0]}   (pair one under Settings)")
    addresses = {"here": served.addresses[-1], "on_the_network": list(served.addresses[:-1])}
    tell(json, addresses, "\n".join([*lines, "Ctrl-C ends it."]))
    sys.stdout.flush()
    if show:
        import webbrowser

        webbrowser.open(served.addresses[-1])
    run(served)
