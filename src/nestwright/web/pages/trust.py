"""Trust: how a phone is told to trust the workshop's own certificate authority, and what that means."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Request
from starlette.responses import Response

from nestwright.web.certificates import fingerprint, permitted_by
from nestwright.web.render import page

router = APIRouter()


@router.get("/trust", include_in_schema=False)
def trust(request: Request) -> Response:
    """What to do on the phone. The fingerprint stands on the bench's own screen only: a page that somebody put between
    could show any."""
    authority = _authority(request)
    bench = bool(getattr(request.state, "bench", False))
    addresses = getattr(request.app.state, "addresses", ())
    print_of = fingerprint(authority)
    groups = [print_of[i : i + 24].rstrip(":") for i in range(0, len(print_of), 24)]
    return page(
        request,
        "trust.html",
        fingerprint=groups if bench else [],
        address=f"{addresses[0]}/trust" if addresses else "",
        picture=_picture(f"{addresses[0]}/trust") if bench and addresses else "",
        only=permitted_by(authority),
    )


@router.get("/ca.crt", include_in_schema=False)
def authority_file(request: Request) -> Response:
    """The authority's certificate, DER (RFC 5280), as phones take it. Its key is never told."""
    return Response(_authority(request), media_type="application/x-x509-ca-cert")


def _authority(request: Request) -> bytes:
    certificate = getattr(request.app.state, "certificate", None)
    if certificate is None or not certificate.authority:
        raise HTTPException(404)
    found: bytes = certificate.authority
    return found


def _picture(address: str) -> str:
    import segno

    made: str = segno.make(address, error="m").svg_inline(scale=5, border=3, dark="#22261f", light="#fff")
    return made
