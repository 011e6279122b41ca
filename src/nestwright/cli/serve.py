"""`nestwright serve`: the page, for the bench and for the phone in the ant room."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from nestwright.cli.record import AsJson, InWorkshop, tell, workshop_of
from nestwright.errors import InputError

__all__ = ["serve"]


def serve(
    port: Annotated[
        int | None,
        typer.Option(
            "--port",
            min=0,
            max=65535,
            help="Port, with --lan the next one too; default 7350, or a free one.",
            show_default=False,
        ),
    ] = None,
    lan: Annotated[
        bool, typer.Option("--lan", help="Let paired phones on your own network in too, encrypted (TLS).")
    ] = False,
    plain: Annotated[
        bool, typer.Option("--plain", help="With --lan: not encrypted; no visit without network then.")
    ] = False,
    certificate: Annotated[
        Path | None,
        typer.Option("--certificate", help="With --lan: a certificate of your own, PEM.", show_default=False),
    ] = None,
    key: Annotated[
        Path | None, typer.Option("--key", help="The key of --certificate, PEM without a password.", show_default=False)
    ] = None,
    show: Annotated[bool, typer.Option("--open", help="Open the page in the browser.")] = False,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Serve the workshop as a page in the browser, on this computer only, until Ctrl-C.

    With --json the addresses are told as JSON, once. With --lan it serves phones and tablets too that were paired by a
    code under Settings, on a network that you trust; they are told once to trust the workshop's own certificate.
    """
    _check(lan, plain, certificate, key)
    workshop = workshop_of(folder)
    _ = workshop.engine  # a record that cannot be opened is told now
    from nestwright.web.certificates import own_certificate
    from nestwright.web.serving import prepare, run

    own = own_certificate(certificate, key) if certificate is not None and key is not None else None
    served = prepare(workshop, port, lan=lan, plain=plain, own=own)
    addresses: dict[str, Any] = {"here": served.addresses[-1], "on_the_network": list(served.addresses[:-1])}
    lines = [f"The page is at {served.addresses[-1]}"]
    if lan:
        lines += _on_the_network(served, addresses)
    tell(json, addresses, "\n".join([*lines, "Ctrl-C ends it."]))
    sys.stdout.flush()
    if show:
        import webbrowser

        webbrowser.open(served.addresses[-1])
    run(served)


def _check(lan: bool, plain: bool, certificate: Path | None, key: Path | None) -> None:
    for given, option in ((plain, "--plain"), (certificate, "--certificate"), (key, "--key")):
        if given and not lan:
            raise InputError("is for other devices", field=option, allowed=f"--lan {option}")
    if plain and (certificate or key):
        raise InputError("says not to encrypt, and a certificate is given", field="--plain", allowed="one of the two")
    if (certificate is None) != (key is None):
        missing = "--key" if key is None else "--certificate"
        raise InputError("certificate and key belong together", field=missing, allowed="both, or neither")


def _on_the_network(served: Any, addresses: dict[str, Any]) -> list[str]:
    """What is said of other devices; the fingerprint goes into the JSON too."""
    from nestwright.web.certificates import FOLDER, fingerprint

    lines = [f"On paired devices: {served.addresses[0]}   (pair one under Settings)"]
    if served.certificate is None:
        return [*lines, "Not encrypted: others on the network can read along, and no visit opens without network."]
    if served.certificate.authority:
        addresses["fingerprint"] = fingerprint(served.certificate.authority)
        lines.append(f"Its certificate: {served.addresses[-1]}/trust tells how a phone is told to trust it")
        if served.certificate.fresh:
            lines.append(f"That certificate is new (in {FOLDER}): each phone has to be told once.")
    return lines
