"""Serving the page: sockets, addresses, and the end of it."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import socket
import ssl
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import uvicorn

from nestwright.web.app import create_app
from nestwright.web.certificates import Certificate, names_in, workshop_certificate
from nestwright.web.patience import Patient
from nestwright.workshop.folder import Workshop
from nestwright.workshop.live_door import open_socket

__all__ = ["Served", "prepare", "run"]

FIRST_PORT = 7350


@dataclass(frozen=True)
class Served:
    """What is served: the application, its sockets, and the addresses to open, the one for other devices first.

    `place` is the socket of this computer; `encrypted` that of the network, with the certificate that it speaks TLS by.
    """

    app: Any
    place: socket.socket
    addresses: tuple[str, ...]
    encrypted: socket.socket | None = None
    certificate: Certificate | None = None


def prepare(
    workshop: Workshop, port: int | None, *, lan: bool = False, plain: bool = False, own: Certificate | None = None
) -> Served:
    """Open the sockets and make the application.

    This computer itself is answered over plain HTTP: nobody else can read there, and browsers count it as safe (W3C
    Secure Contexts, 3.1). The network is answered over TLS, at the next port.

    Parameters
    ----------
    port : a port, 0 for any free ones, None for `FIRST_PORT` or, where that is taken, a free one.
    lan : answer paired devices on the local network too; else only this computer.
    plain : over the network without TLS, at the same port.
    own : certificate and key to speak TLS by, in place of the workshop's own.

    Raises InputError when a port cannot be had or the workshop's certificate cannot be used.
    """
    if not lan or plain:
        place = _socket("0.0.0.0" if lan else "127.0.0.1", port, FIRST_PORT)
        return _served(workshop, place, _own_names() if lan else (), lan=lan)
    names = _own_names()
    if own is not None:
        names = tuple(dict.fromkeys((*names_in(own.file), *names)))
    certificate = own or workshop_certificate(workshop.folder, names)
    place = _socket("127.0.0.1", port, FIRST_PORT)
    try:
        following = None if port is None else (port and port + 1)
        encrypted = _socket("0.0.0.0", following, FIRST_PORT + 1)
    except BaseException:
        place.close()
        raise
    return _served(workshop, place, names, lan=True, encrypted=encrypted, certificate=certificate)


def _served(
    workshop: Workshop,
    place: socket.socket,
    names: tuple[str, ...],
    *,
    lan: bool,
    encrypted: socket.socket | None = None,
    certificate: Certificate | None = None,
) -> Served:
    app = create_app(workshop, names=names, lan=lan)
    at = (encrypted or place).getsockname()[1]
    scheme = "http" if encrypted is None else "https"
    beyond = tuple(f"{scheme}://{_bracketed(name)}:{at}" for name in names)
    addresses = (*beyond, f"http://127.0.0.1:{place.getsockname()[1]}")
    app.state.addresses = addresses
    app.state.certificate = certificate
    return Served(app, place, addresses, encrypted, certificate)


def run(served: Served) -> None:
    """Serve until Ctrl-C; requests that are under way are answered."""
    # a look at a large record computes for seconds; who asks meanwhile gives way at each query, and would wait for this
    # long to have its turn again (5 ms by default, some thirty times a visit)
    sys.setswitchinterval(0.0005)
    served.app.state.watch.start()
    try:
        with contextlib.suppress(KeyboardInterrupt):
            asyncio.run(_serve(served))
    finally:
        served.app.state.watch.stop()
        served.app.state.jobs.close()
        served.place.close()
        if served.encrypted is not None:
            served.encrypted.close()


async def _serve(served: Served) -> None:
    servers = [(_Server(_config(served.app)), served.place)]
    if served.encrypted is not None and served.certificate is not None:
        config = _config(served.app, ssl_certfile=served.certificate.file, ssl_keyfile=served.certificate.key)
        config.load()
        assert config.ssl is not None
        config.ssl.minimum_version = ssl.TLSVersion.TLSv1_2  # RFC 8996: older ones must not be spoken
        servers.append((_Server(config), served.encrypted))
    logging.getLogger("uvicorn.error").addFilter(lambda record: not cut_off(record))
    signals = _Signals(_config(served.app), [server for server, _ in servers])
    with signals.capture_signals():
        await asyncio.gather(*(server.serve(sockets=[place]) for server, place in servers))


def _config(app: Any, **more: Any) -> uvicorn.Config:
    return uvicorn.Config(
        app,
        http=Patient,
        ws="none",
        log_config=None,
        access_log=False,
        lifespan="off",
        server_header=False,
        # what a device says in its headers about where it asks from is not believed
        proxy_headers=False,
        limit_concurrency=400,
        timeout_keep_alive=30,
        timeout_graceful_shutdown=5,
        **more,
    )


def cut_off(record: logging.LogRecord) -> bool:
    """Whether what the server reports is no more than that a stop cut off a request that was still answered."""
    kind = record.exc_info[0] if record.exc_info else None
    return str(record.msg).startswith("Cancel ") or (kind is not None and issubclass(kind, asyncio.CancelledError))


class _Server(uvicorn.Server):
    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        # Ctrl-C is for all of them: `_Signals`
        yield


class _Signals(uvicorn.Server):
    """Serves nothing: passes Ctrl-C on to all that do."""

    def __init__(self, config: uvicorn.Config, servers: list[_Server]) -> None:
        super().__init__(config)
        self.servers_told = servers

    def handle_exit(self, sig: int, frame: Any) -> None:
        super().handle_exit(sig, frame)
        for server in self.servers_told:
            server.handle_exit(sig, frame)


def _bracketed(name: str) -> str:
    return f"[{name}]" if ":" in name else name


def _socket(host: str, port: int | None, usual: int) -> socket.socket:
    from nestwright.errors import InputError

    if port is not None:
        return open_socket(host, port)
    try:
        return open_socket(host, usual)
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
    if name and name != "localhost":
        found += [name] if name.endswith(".local") else [name, f"{name}.local"]
    return tuple(dict.fromkeys(one for one in found if not one.startswith("127.")))
