"""Serving the page: sockets, addresses, and the end of it."""

from __future__ import annotations

import contextlib
import socket
from dataclasses import dataclass
from typing import Any

import uvicorn

from nestwright.web.app import create_app
from nestwright.workshop.folder import Workshop
from nestwright.workshop.live_door import open_socket

__all__ = ["Served", "prepare", "run"]

FIRST_PORT = 7350


@dataclass(frozen=True)
class Served:
    """What is served: the application, its socket, and the addresses to open, the one for other devices first."""

    app: Any
    place: socket.socket
    addresses: tuple[str, ...]


def prepare(workshop: Workshop, port: int | None, *, lan: bool = False) -> Served:
    """Open a socket and make the application.

    Parameters
    ----------
    port : a port, 0 for any free one, None for `FIRST_PORT` or, where that is taken, a free one.
    lan : answer paired devices on the local network too; else only this computer.

    Raises InputError when the port cannot be had.
    """
    host = "0.0.0.0" if lan else "127.0.0.1"
    place = _socket(host, port)
    at = place.getsockname()[1]
    names = _own_names() if lan else ()
    app = create_app(workshop, names=names, lan=lan)
    addresses = tuple(f"http://{name}:{at}" for name in (*names, "127.0.0.1"))
    app.state.addresses = addresses
    return Served(app, place, addresses)


def run(served: Served) -> None:
    """Serve until Ctrl-C; requests that are under way are answered."""
    config = uvicorn.Config(
        served.app,
        log_config=None,
        access_log=False,
        lifespan="off",
        server_header=False,
        limit_concurrency=400,
        timeout_keep_alive=30,
        timeout_graceful_shutdown=5,
    )
    served.app.state.watch.start()
    try:
        with contextlib.suppress(KeyboardInterrupt):
            uvicorn.Server(config).run(sockets=[served.place])
    finally:
        served.app.state.watch.stop()
        served.app.state.jobs.close()
        served.place.close()


def _socket(host: str, port: int | None) -> socket.socket:
    from nestwright.errors import InputError

    if port is not None:
        return open_socket(host, port)
    try:
        return open_socket(host, FIRST_PORT)
    except InputError:
        return open_socket(host, 0)


def _own_names() -> tuple[str, ...]:
    """Addresses of this computer on the local network, as far as its own name and its routes tell them; no packet is
    sent."""
    found: list[str] = []
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(("192.0.2.1", 9))  # TEST-NET-1, RFC 5737: choosing the route tells our own address on it
        found.append(probe.getsockname()[0])
    with contextlib.suppress(OSError):
        found += [str(one[4][0]) for one in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    name = socket.gethostname().lower()
    found += [name, f"{name}.local"] if name else []
    return tuple(dict.fromkeys(one for one in found if not one.startswith("127.")))
