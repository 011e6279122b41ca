"""`nestwright serve`: the page, for the bench and for the phone in the ant room."""

from __future__ import annotations

from typing import Annotated

import typer

from nestwright.cli.record import InWorkshop, workshop_of

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
) -> None:
    """Serve the workshop as a page in the browser, on this computer only, until Ctrl-C.

    With --lan also to phones and tablets that were paired by a code under Settings, on a network that you trust.
    """
    workshop = workshop_of(folder)
    _ = workshop.engine  # a record that cannot be opened is told now
    from nestwright.web.serving import prepare, run

    served = prepare(workshop, port, lan=lan)
    print(f"The page is at {served.addresses[-1]}", flush=True)
    if lan:
        print(f"On paired devices: {served.addresses[0]}   (pair one under Settings)", flush=True)
    print("Ctrl-C ends it.", flush=True)
    if show:
        import webbrowser

        webbrowser.open(served.addresses[-1])
    run(served)
