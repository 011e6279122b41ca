"""A certificate authority of the workshop's own, and the certificate of its page.

A phone that was once told to trust the authority speaks encrypted with the page, and knows it again. The authority is
good for this computer's names and for the addresses around it only (RFC 5280, 4.2.1.10 Name Constraints): if its key
were stolen, no other site could be forged with it. Keys lie in a hidden folder that backups and exports leave out.
"""

from __future__ import annotations

import contextlib
import ipaddress
import os
import re
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from nestwright.errors import InputError

__all__ = [
    "FOLDER",
    "Certificate",
    "fingerprint",
    "names_in",
    "own_certificate",
    "permitted_by",
    "workshop_certificate",
]

FOLDER = ".page"
AUTHORITY_DAYS = 3650
"""Days that the authority is good for: longer than a phone is used."""
PAGE_DAYS = 397
"""Days that the page's certificate is good for; phones refuse those that are good for much longer."""
RENEW_DAYS = 180
"""Days before its end at which the page's certificate is made anew."""
CLOCKS = timedelta(days=1)
"""A phone's clock may be behind."""
_NAME = re.compile(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?(\.[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?)*")


@dataclass(frozen=True)
class Certificate:
    """What the page proves itself by: the files of certificate and key; the authority as DER, b"" for one's own."""

    file: Path
    key: Path
    authority: bytes = b""
    fresh: bool = False
    """Whether the authority was made just now, so that no device can trust it yet."""


def fingerprint(der: bytes) -> str:
    """SHA-256 of a certificate, in pairs of hexadecimal digits, as devices show it.

    Examples
    --------
    >>> fingerprint(b"")[:11]
    'E3:B0:C4:42'
    """
    import hashlib

    return hashlib.sha256(der).digest().hex(":").upper()


def workshop_certificate(folder: Path, names: tuple[str, ...]) -> Certificate:
    """The certificate for the page of the workshop in `folder`, made where there is none that fits.

    Parameters
    ----------
    names : names and addresses of this computer that the page is asked for.

    The authority is kept as long as it is good and may speak for all of the names; else a new one is made, which
    devices have to be told to trust anew. The page's certificate is made anew for other names and before its end.

    Raises InputError for files that are damaged, that others can read, or that cannot be written.
    """
    place = folder / FOLDER
    try:
        place.mkdir(mode=0o700, exist_ok=True)
        place.chmod(0o700)
        # a workshop that is kept under version control does not give its key away
        if not (place / ".gitignore").exists():
            _keep(place / ".gitignore", b"*\n")
        kept = _authority(place)
        fresh = kept is None or not _speaks_for(kept[0], names)
        authority, signer = _new_authority(place, names) if kept is None or fresh else kept
        if not _fits(place, authority, names):
            _new_page(place, authority, signer, names)
    except OSError as error:
        raise InputError("the page's key cannot be kept", file=str(place), found=error.strerror or str(error)) from None
    return Certificate(place / "page.crt", place / "page.key", _der(authority), fresh)


def own_certificate(file: Path, key: Path) -> Certificate:
    """A certificate and key of one's own, PEM, held against each other. Raises InputError."""
    import ssl

    for one, field in ((file, "--certificate"), (key, "--key")):
        try:
            one.open("rb").close()
        except OSError as error:
            raise InputError("cannot be read", file=str(one), field=field, found=error.strerror or "") from None
    try:
        # a key with a password would ask for it in the terminal, where nobody may sit
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(file, key, password=lambda: b"")
    except (ssl.SSLError, OSError, ValueError) as error:
        found = getattr(error, "reason", None) or str(error)
        allowed = "a certificate and its key, both PEM, the key without a password"
        raise InputError("do not belong together", file=f"{file}, {key}", found=str(found), allowed=allowed) from None
    return Certificate(file, key)


def names_in(file: Path) -> tuple[str, ...]:
    """Names and addresses that a certificate is for, but those that stand for many."""
    from cryptography import x509

    try:
        made = x509.load_pem_x509_certificate(file.read_bytes())
        told = made.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (ValueError, x509.ExtensionNotFound):
        raise InputError(
            "tells no names", file=str(file), allowed="a certificate with subject alternative names"
        ) from None
    kinds = (x509.DNSName, x509.IPAddress)
    found = [str(one.value).lower() for one in told if isinstance(one, kinds)]
    return tuple(name for name in found if "*" not in name)


def _authority(place: Path) -> tuple[Any, Any] | None:
    """Certificate and key of the authority, None where there is none or its time is over."""
    from cryptography import x509
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    file, secret = place / "authority.crt", place / "authority.key"
    if not file.exists():  # the key is written first: without a certificate nobody was ever told to trust it
        return None
    try:
        if os.name == "posix" and secret.stat().st_mode & 0o077:
            raise InputError(
                "the key of the page can be read by others, who may have copied it",
                file=str(secret),
                found=f"mode {secret.stat().st_mode & 0o777:04o}",
                allowed=f"mode 0600; remove the folder {FOLDER} to have a new one made, and have devices trust that",
            )
        certificate = x509.load_pem_x509_certificate(file.read_bytes())
        key = load_pem_private_key(secret.read_bytes(), None)
        if key.public_key() != certificate.public_key():
            raise ValueError
        certificate.extensions.get_extension_for_class(x509.NameConstraints)
    except (OSError, ValueError, TypeError, x509.ExtensionNotFound):
        allowed = f"remove the folder {FOLDER} to have a new one made, and have devices trust that"
        raise InputError("the page's certificate is damaged", file=str(place), allowed=allowed) from None
    left = certificate.not_valid_after_utc - datetime.now(UTC)
    return None if left < timedelta(days=PAGE_DAYS) else (certificate, key)


def _subject_names(names: tuple[str, ...]) -> list[Any]:
    from cryptography import x509

    made: list[Any] = []
    for name in names:
        try:
            made.append(x509.IPAddress(ipaddress.ip_address(name)))
        except ValueError:
            if len(name) < 254 and _NAME.fullmatch(name):  # others cannot stand in a certificate
                made.append(x509.DNSName(name))
    return made


def _around(address: Any) -> Any:
    """The addresses that the authority may speak for because of one of ours."""
    # a home's router gives another address out of the same 256 from time to time; a public one is nobody else's
    wide = (24 if address.version == 4 else 64) if address.is_private else address.max_prefixlen
    return ipaddress.ip_network((address, wide), strict=False)


def _permitted(names: tuple[str, ...]) -> list[Any]:
    from cryptography import x509

    found = [
        x509.IPAddress(_around(one.value)) if isinstance(one, x509.IPAddress) else one for one in _subject_names(names)
    ]
    # a kind of name that is not spoken of would be free: of each kind there is one
    if not any(isinstance(one, x509.DNSName) for one in found):
        found.append(x509.DNSName("page.invalid"))  # RFC 6761: never a real name
    if not any(isinstance(one, x509.IPAddress) for one in found):
        found.append(x509.IPAddress(ipaddress.ip_network("127.0.0.1/32")))
    return list(dict.fromkeys(found))


def permitted_by(der: bytes) -> list[str]:
    """Names and networks that an authority may speak for, in words."""
    from cryptography import x509

    told = x509.load_der_x509_certificate(der).extensions.get_extension_for_class(x509.NameConstraints).value
    return [str(one.value) for one in told.permitted_subtrees or []]


def _speaks_for(authority: Any, names: tuple[str, ...]) -> bool:
    from cryptography import x509

    permitted = authority.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []
    nets: list[Any] = [one.value for one in permitted if isinstance(one, x509.IPAddress)]
    own = [one.value for one in permitted if isinstance(one, x509.DNSName)]
    return all(
        any(one.value in net for net in nets if net.version == one.value.version)
        if isinstance(one, x509.IPAddress)
        else any(one.value == name or one.value.endswith(f".{name}") for name in own)
        for one in _subject_names(names)
    )


def _fits(place: Path, authority: Any, names: tuple[str, ...]) -> bool:
    """Whether the page's certificate stands, is of this authority, for these names, and not near its end."""
    from cryptography import x509
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        if os.name == "posix" and (place / "page.key").stat().st_mode & 0o077:
            return False
        kept = x509.load_pem_x509_certificate((place / "page.crt").read_bytes())
        key = load_pem_private_key((place / "page.key").read_bytes(), None)
        kept.verify_directly_issued_by(authority)
        told = kept.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (OSError, ValueError, TypeError, InvalidSignature, x509.ExtensionNotFound):
        return False
    left = kept.not_valid_after_utc - datetime.now(UTC)
    same = key.public_key() == kept.public_key() and set(told) == set(_subject_names(names))
    return same and left > timedelta(days=RENEW_DAYS)


def _new_authority(place: Path, names: tuple[str, ...]) -> tuple[Any, Any]:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID

    key = ec.generate_private_key(ec.SECP256R1())
    subject = _called(f"Nestwright workshop {x509.random_serial_number() % 10**6:06d}")
    made = (
        _begun(subject, subject, key.public_key(), AUTHORITY_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_use(sign=True), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.NameConstraints(_permitted(names), None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    _keep_both(place, "authority", made, key)
    return made, key


def _new_page(place: Path, authority: Any, signer: Any, names: tuple[str, ...]) -> None:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID

    key = ec.generate_private_key(ec.SECP256R1())
    made = (
        _begun(_called("Nestwright page"), authority.subject, key.public_key(), PAGE_DAYS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_use(sign=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(_subject_names(names)), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(signer.public_key()), critical=False)
        .sign(signer, hashes.SHA256())
    )
    _keep_both(place, "page", made, key)


def _called(name: str) -> Any:
    from cryptography import x509
    from cryptography.x509.oid import NameOID

    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])


def _begun(subject: Any, issuer: Any, public: Any, days: int) -> Any:
    from cryptography import x509

    start = datetime.now(UTC) - CLOCKS
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(public)
        .serial_number(x509.random_serial_number())
        .not_valid_before(start)
        .not_valid_after(start + timedelta(days=days))
    )


def _use(*, sign: bool) -> Any:
    from cryptography import x509

    kinds = (
        "digital_signature", "content_commitment", "key_encipherment", "data_encipherment", "key_agreement",
        "key_cert_sign", "crl_sign", "encipher_only", "decipher_only",
    )  # fmt: skip
    only = "key_cert_sign" if sign else "digital_signature"
    return x509.KeyUsage(**{kind: kind == only for kind in kinds})


def _der(certificate: Any) -> bytes:
    from cryptography.hazmat.primitives.serialization import Encoding

    made: bytes = certificate.public_bytes(Encoding.DER)
    return made


def _keep_both(place: Path, name: str, certificate: Any, key: Any) -> None:
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    _keep(place / f"{name}.key", key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    _keep(place / f"{name}.crt", certificate.public_bytes(Encoding.PEM))


def _keep(file: Path, data: bytes) -> None:
    """Write a file that only its owner can read, from its first byte on."""
    handle, scratch = tempfile.mkstemp(prefix=f".{file.name}-", dir=file.parent)  # mode 0600
    try:
        with os.fdopen(handle, "wb") as made:
            made.write(data)
            made.flush()
            os.fsync(made.fileno())
        os.replace(scratch, file)
    finally:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(scratch)
