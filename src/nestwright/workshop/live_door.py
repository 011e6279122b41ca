"""A door for simple sensors: readings posted over HTTP with a token, answered after they are in the record."""

from __future__ import annotations

import asyncio
import contextlib
import socket
from collections.abc import Iterator
from typing import Any

import uvicorn
from fastapi import FastAPI, Request
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect

from nestwright.errors import InputError
from nestwright.sensing.live.mapping import Clock
from nestwright.sensing.live.messages import Fault
from nestwright.sensing.live.posted import read_posted
from nestwright.sensing.live.values import live_value
from nestwright.workshop.changes import now
from nestwright.workshop.folder import Workshop
from nestwright.workshop.live_intake import Intake
from nestwright.workshop.live_store import Parcel
from nestwright.workshop.live_tally import Tally
from nestwright.workshop.live_token import good_token

__all__ = ["door", "open_socket", "serve"]


class _Refusal(Exception):  # noqa: N818 - an answer, not a fault
    def __init__(self, status: int, message: str, **headers: str) -> None:
        super().__init__(message)
        self.status, self.message = status, message
        self.headers = {name.replace("_", "-"): value for name, value in headers.items()}


def door(workshop: Workshop, intake: Intake, tally: Tally, clock: Clock) -> FastAPI:
    """The application: POST /readings and nothing else.

    It answers 200 after the readings are committed; 401 without the token, 413 for a body too large, 422 for readings
    that cannot be taken (then none of the request is), 429 for too many requests, 503 when they could not be written
    in time, so that the sensor tries again. Every refusal is {"error": one message}.
    """
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    pace = _Pace(live_value("requests_per_second"))
    zone = workshop.zone

    async def post(request: Request) -> JSONResponse:
        tally.requests += 1
        if not pace.free(asyncio.get_running_loop().time()):
            raise _Refusal(429, "too many requests; wait a second", Retry_After="1")
        scheme, _, token = request.headers.get("authorization", "").partition(" ")
        try:
            known = scheme.lower() == "bearer" and await asyncio.to_thread(good_token, workshop, token.strip())
        except InputError as error:
            raise _Refusal(503, str(error.message), Retry_After="10") from None
        if not known:
            tally.refuse(now(), _who(request), [Fault("token", "without the token, or with another")])
            raise _Refusal(
                401,
                "needs the header 'Authorization: Bearer TOKEN' with the token of `nestwright listen --new-token`",
                WWW_Authenticate="Bearer",
            )
        body = await _body(request)
        arrival = now()
        try:
            readings = read_posted(body, arrival, clock, zone)
        except InputError as error:
            tally.refuse(arrival, _who(request), [Fault("unreadable", str(error))], body)
            raise _Refusal(422, str(error)) from None
        if intake.full:
            raise _Refusal(503, "too much waits to be written; try again", Retry_After="10")
        written: asyncio.Future[tuple[str, ...]] = asyncio.get_running_loop().create_future()

        def kept(reasons: tuple[str, ...]) -> None:
            if not written.done():
                written.set_result(reasons)

        intake.bring(Parcel(tuple(readings), whole=True), _who(request), kept)
        try:
            reasons = await asyncio.wait_for(written, live_value("request_patience"))
        except TimeoutError:
            raise _Refusal(503, "could not be written in time; try again", Retry_After="10") from None
        if reasons:
            raise _Refusal(422, "; ".join(reasons[:3]))
        off = max((abs(r.clock_off) for r in readings if r.clock_off is not None), default=None)
        told = {} if off is None else {"clock_off_s": round(off)}
        return JSONResponse({"kept": len(readings), **told})

    async def refused(_: Request, error: Any) -> JSONResponse:
        return JSONResponse({"error": error.message}, error.status, error.headers)

    async def other(_: Request, error: Any) -> JSONResponse:
        return JSONResponse(
            {"error": f"{error.detail}: there is only POST /readings"}, error.status_code, error.headers
        )

    app.add_api_route("/readings", post, methods=["POST"])
    app.add_exception_handler(_Refusal, refused)
    app.add_exception_handler(HTTPException, other)
    return app


async def _body(request: Request) -> bytes:
    """The body, as far as it may be long. Raises _Refusal."""
    most = int(live_value("request_bytes"))
    told = request.headers.get("content-length", "0")
    too_large = _Refusal(413, f"is larger than {most} bytes: send fewer readings at once", Connection="close")
    if told.isdecimal() and len(told) < 20 and int(told) > most:
        raise too_large
    body = bytearray()
    try:
        async with asyncio.timeout(live_value("request_patience")):
            async for piece in request.stream():
                body += piece
                if len(body) > most:
                    raise too_large
    except TimeoutError:
        raise _Refusal(408, "came too slowly", Connection="close") from None
    except ClientDisconnect:
        raise _Refusal(400, "ended before its end", Connection="close") from None
    return bytes(body)


def _who(request: Request) -> str:
    return f"http from {request.client.host}" if request.client else "http"


class _Pace:
    """So many a second on average, and as many as in four seconds at once."""

    def __init__(self, rate: float) -> None:
        self.rate, self.left, self.at = rate, 4 * rate, 0.0

    def free(self, at: float) -> bool:
        self.left = min(4 * self.rate, self.left + (at - self.at) * self.rate) if self.at else self.left
        self.at = at
        if self.left < 1:
            return False
        self.left -= 1
        return True


def open_socket(host: str, port: int) -> socket.socket:
    """A socket to serve on. Raises InputError when the address or port cannot be had."""
    try:
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        place = socket.create_server((host, port), family=family, backlog=128)
        # connections take it from here: else an answer waits some 40 ms for the other side's acknowledgement
        place.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        return place
    except (OSError, OverflowError) as error:
        said = getattr(error, "strerror", "") or str(error)
        raise InputError("cannot be listened on", field=f"{host}:{port}", found=said.lower()) from None


class _Server(uvicorn.Server):
    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        # Ctrl-C is for the whole listener, which ends the door when all is written
        yield


async def serve(app: FastAPI, place: socket.socket, stop: asyncio.Event) -> None:
    """Serve until `stop`; requests that are under way are answered."""
    config = uvicorn.Config(
        app,
        log_config=None,
        log_level="critical",
        access_log=False,
        lifespan="off",
        server_header=False,
        limit_concurrency=200,
        timeout_keep_alive=15,
        timeout_graceful_shutdown=int(live_value("request_patience")),
    )
    server = _Server(config)
    task = asyncio.create_task(server.serve(sockets=[place]))
    ending = asyncio.create_task(stop.wait())
    await asyncio.wait((task, ending), return_when=asyncio.FIRST_COMPLETED)
    ending.cancel()
    server.should_exit = True
    await task
