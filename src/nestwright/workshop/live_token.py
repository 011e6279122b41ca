"""The token by which sensors may post readings: made at random, kept as its hash."""

from __future__ import annotations

import hashlib
import hmac
import secrets

from nestwright.workshop.folder import Workshop

__all__ = ["good_token", "has_token", "new_token"]

_KEY = "live.token"


def new_token(workshop: Workshop) -> str:
    """A new token of 256 random bits; the one before is void from now on. It is shown this once: the record has only
    its hash, from which it cannot be found."""
    token = secrets.token_urlsafe(32)
    workshop.set(_KEY, _hash(token))
    return token


def has_token(workshop: Workshop) -> bool:
    """Whether a token was ever made."""
    return bool(workshop.setting(_KEY))


def good_token(workshop: Workshop, token: str) -> bool:
    """Whether this is the token; takes the same time whatever the difference."""
    kept = workshop.setting(_KEY)
    return hmac.compare_digest(_hash(token), kept or _hash(secrets.token_urlsafe(32)))


def _hash(token: str) -> str:
    # a plain hash is enough: there is nothing to guess in 256 random bits
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
