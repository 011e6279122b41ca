"""The page over TLS: a real handshake, a real browser, a certificate authority that can vouch for nothing else, and
connections that are slow or many."""

from __future__ import annotations

import base64
import hashlib
import http.client
import re
import shutil
import socket
import ssl
import threading
import zipfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

from forked import done
from nestwright.errors import InputError
from nestwright.web import certificates, guard, patience, serving
from nestwright.web.certificates import own_certificate, workshop_certificate
from nestwright.workshop.folder import create_workshop

from .conftest import BROWSERS, PATIENCE, PHONE, serve

NAMES = ("192.168.7.20", "bench", "bench.local")
Until = Callable[[Callable[[], bool]], None]


def own_address() -> str:
    """An address of this computer that is not the loopback: what comes over it is to the page as another device."""
    found = [name for name in serving._own_names() if re.fullmatch(r"[0-9.]+", name)]
    if not found:
        pytest.skip("this computer is on no network: nothing can be asked as another device would")
    return found[0]


@pytest.fixture(scope="module")
def encrypted(example_workshop: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, str, Path]]:
    """A page that serves the network too: its address here, that over TLS, and its workshop."""
    own_address()
    folder = tmp_path_factory.mktemp("tls") / "bench-room"
    shutil.copytree(example_workshop, folder)
    process, here = serve(folder, "--lan")
    told = process.stdout.readline()
    yield here, re.findall(r"https://\S+", told)[0], folder
    process.terminate()
    process.wait(PATIENCE)


def trusting(folder: Path) -> ssl.SSLContext:
    return ssl.create_default_context(cafile=str(folder / ".page" / "authority.crt"))


def ask(address: str, context: ssl.SSLContext, path: str = "/pair") -> http.client.HTTPResponse:
    host, port = address.removeprefix("https://").split(":")
    link = http.client.HTTPSConnection(host, int(port), context=context, timeout=20)
    link.request("GET", path)
    return link.getresponse()


def test_a_device_that_trusts_the_authority_is_answered_and_no_other(encrypted: tuple[str, str, Path]) -> None:
    here, address, folder = encrypted
    assert ask(address, trusting(folder)).status == 200
    assert ask(address, trusting(folder), "/history").status == 401
    with pytest.raises(ssl.SSLCertVerificationError):
        ask(address, ssl.create_default_context())
    # RFC 8996: TLS 1.0 and 1.1 must not be spoken
    old = trusting(folder)
    old.set_ciphers("ALL:@SECLEVEL=0")
    with pytest.warns(DeprecationWarning, match="deprecated"):
        old.minimum_version, old.maximum_version = ssl.TLSVersion.TLSv1, ssl.TLSVersion.TLSv1_1
    with pytest.raises((ssl.SSLError, ConnectionError)):
        ask(address, old)
    # what is not encrypted is told nothing
    host, port = address.removeprefix("https://").split(":")
    with socket.create_connection((host, int(port)), timeout=20) as plain:
        plain.sendall(b"GET /pair HTTP/1.1\r\nHost: " + host.encode() + b"\r\n\r\n")
        assert b"HTTP" not in plain.recv(4000)
    # the authority as a phone fetches it, and its fingerprint on the bench's screen only
    fetched = ask(address, trusting(folder), "/ca.crt").read()
    kept = x509.load_pem_x509_certificate((folder / ".page" / "authority.crt").read_bytes())
    assert fetched == kept.public_bytes(serialization.Encoding.DER)
    first = hashlib.sha256(fetched).digest()[:8].hex(":").upper().encode()
    assert first not in ask(address, trusting(folder), "/trust").read()
    link = http.client.HTTPConnection(here.removeprefix("http://"), timeout=20)
    link.request("GET", "/trust")
    assert first in link.getresponse().read()
    # nothing is shown of the key, by whatever name
    for path in ("/.page/authority.key", "/static/../.page/authority.key", "/authority.key"):
        assert b"PRIVATE" not in ask(address, trusting(folder), path).read()


def handshake(authority: Path, certificate: Any, key: Any, host: str, tmp_path: Path) -> None:
    """A handshake in memory of a device that trusts `authority` with a page of another certificate."""
    pem = tmp_path / "other.pem"
    secret = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    pem.write_bytes(certificate.public_bytes(serialization.Encoding.PEM) + secret)
    there = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    there.load_cert_chain(pem)
    up, down = ssl.MemoryBIO(), ssl.MemoryBIO()
    phone = ssl.create_default_context(cafile=str(authority)).wrap_bio(down, up, server_hostname=host)
    page = there.wrap_bio(up, down, server_side=True)
    for _ in range(4):
        for side in (phone, page):
            try:
                side.do_handshake()
            except ssl.SSLWantReadError:
                continue
    phone.do_handshake()


@pytest.mark.parametrize(
    ("host", "good"),
    [("192.168.7.99", True), ("bench.local", True), ("192.168.8.1", False), ("elsewhere.example", False),
     ("local", False), ("2001:db8::1", False)],
)  # fmt: skip
def test_the_authority_can_vouch_for_nothing_else(tmp_path: Path, host: str, good: bool) -> None:
    # RFC 5280, 4.2.1.10, as OpenSSL keeps to it: even with the stolen key no other site can be forged
    workshop_certificate(tmp_path, NAMES)
    place = tmp_path / ".page"
    authority = x509.load_pem_x509_certificate((place / "authority.crt").read_bytes())
    signer: Any = serialization.load_pem_private_key((place / "authority.key").read_bytes(), None)
    key = ec.generate_private_key(ec.SECP256R1())
    now = datetime.now(UTC)
    forged = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([]))
        .issuer_name(authority.subject)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName(certificates._subject_names((host,))), critical=True)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(signer.public_key()), critical=False)
        .sign(signer, hashes.SHA256())
    )
    if good:
        handshake(place / "authority.crt", forged, key, host, tmp_path)
        return
    with pytest.raises(ssl.SSLCertVerificationError) as caught:
        handshake(place / "authority.crt", forged, key, host, tmp_path)
    assert caught.value.verify_code == 47  # X509_V_ERR_PERMITTED_VIOLATION


def test_the_certificate_is_renewed_and_the_authority_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = workshop_certificate(tmp_path, NAMES)
    page = first.file.read_bytes()
    again = workshop_certificate(tmp_path, NAMES)
    assert first.fresh
    assert not again.fresh
    assert again.file.read_bytes() == page
    # the router gave another address: the phone need not be told anew
    moved = workshop_certificate(tmp_path, ("192.168.7.31", *NAMES[1:]))
    assert moved.authority == first.authority
    assert moved.file.read_bytes() != page
    # another network is beyond what the phone was told to trust
    other = workshop_certificate(tmp_path, ("10.0.0.4", *NAMES[1:]))
    assert other.fresh
    assert other.authority != first.authority
    monkeypatch.setattr(certificates, "PAGE_DAYS", certificates.RENEW_DAYS)  # at its end, made the day before
    old = workshop_certificate(tmp_path, ("10.0.0.5", *NAMES[1:])).file.read_bytes()
    monkeypatch.undo()
    near = workshop_certificate(tmp_path, ("10.0.0.5", *NAMES[1:]))
    assert near.file.read_bytes() != old
    assert near.authority == other.authority
    made = x509.load_pem_x509_certificate(near.file.read_bytes())
    # what phones take at most of a certificate that a person trusts: 825 days (value from memory)
    assert made.not_valid_after_utc - made.not_valid_before_utc < timedelta(days=825)


def test_keys_are_their_owners_and_in_no_backup_or_export(tmp_path: Path) -> None:
    from nestwright.workshop.backup import back_up
    from nestwright.workshop.exchange import export_record

    workshop = create_workshop(tmp_path / "w", "UTC")
    workshop_certificate(workshop.folder, NAMES)
    place = workshop.folder / ".page"
    assert place.stat().st_mode & 0o777 == 0o700
    assert {one.stat().st_mode & 0o777 for one in place.iterdir()} == {0o600}
    back_up(workshop, tmp_path / "b.zip")
    export_record(workshop, tmp_path / "e")
    with zipfile.ZipFile(tmp_path / "b.zip") as packed:
        told = {name: packed.read(name) for name in packed.namelist()}
    told |= {str(one): one.read_bytes() for one in (tmp_path / "e").rglob("*") if one.is_file()}
    assert told
    for name, content in told.items():
        assert ".page" not in name
        assert b"PRIVATE KEY" not in content
    key = place / "authority.key"
    key.chmod(0o644)
    with pytest.raises(InputError, match="read by others"):
        workshop_certificate(workshop.folder, NAMES)
    key.chmod(0o600)
    key.write_bytes((place / "page.key").read_bytes())
    with pytest.raises(InputError, match="damaged"):
        workshop_certificate(workshop.folder, NAMES)


def test_a_certificate_of_ones_own_or_none(tmp_path: Path) -> None:
    workshop = create_workshop(tmp_path / "w", "UTC")
    made = workshop_certificate(tmp_path, ("bench.example.org",))
    own = own_certificate(made.file, made.key)
    served = serving.prepare(workshop, 0, lan=True, own=own)
    assert served.addresses[0].startswith("https://bench.example.org:")
    assert served.addresses[-1].startswith("http://127.0.0.1:")
    plain = serving.prepare(workshop, 0, lan=True, plain=True)
    assert plain.encrypted is None
    assert all(one.startswith("http://") for one in plain.addresses)
    assert not (workshop.folder / ".page").exists()
    for one in (served.place, served.encrypted, plain.place):
        assert one is not None
        one.close()
    with pytest.raises(InputError, match="do not belong together"):
        own_certificate(made.file, made.file.with_name("authority.key"))
    with pytest.raises(InputError, match="cannot be read"):
        own_certificate(tmp_path / "none.crt", made.key)
    for wrong in (["--plain"], ["--lan", "--key", str(made.key)],
                  ["--lan", "--plain", "--certificate", str(made.file), "--key", str(made.key)]):  # fmt: skip
        said = done("serve", "--workshop", str(workshop.folder), *wrong)
        assert said.returncode == 2
        assert "Traceback" not in said.stderr


def test_a_phone_is_paired_over_tls_and_keeps_the_visit(
    browser: Any, encrypted: tuple[str, str, Path], until: Until
) -> None:
    here, address, folder = encrypted
    page_of = x509.load_pem_x509_certificate((folder / ".page" / "page.crt").read_bytes())
    spki = page_of.public_key().public_bytes(
        serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
    )
    pin = base64.b64encode(hashlib.sha256(spki).digest()).decode()
    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    # a browser's own store of authorities belongs to the system: here the browser is told of this one key, which to it
    # is as good as trusted (the chain itself is verified above); no service worker is had otherwise
    arguments = ["--no-sandbox", "--disable-gpu", f"--ignore-certificate-errors-spki-list={pin}"]
    trusted = browser.browser_type.launch(executable_path=found, args=arguments)
    bench, hand = trusted.new_context(), trusted.new_context(**PHONE)
    screen, phone = bench.new_page(), hand.new_page()
    phone.goto(address + "/visit")
    assert phone.url == address + "/pair"
    screen.goto(here + "/pair/open")
    code = screen.inner_text("p.large").replace(" ", "")
    assert address in screen.inner_text("main")
    phone.fill("#f-code", f"{(int(code) + 1) % 10**8:08d}")
    phone.click("main button")
    assert "wrong" in phone.inner_text("[role=alert]")
    phone.fill("#f-code", code)
    phone.fill("#f-name", "phone of the ant room")
    phone.click("main button")
    phone.wait_for_url(address + "/")
    cookie = next(one for one in hand.cookies() if "device" in one["name"])
    assert cookie["name"].startswith("__Host-")
    assert cookie["secure"]
    assert cookie["httpOnly"]
    assert cookie["sameSite"] == "Strict"
    phone.goto(address + "/visit")
    until(lambda: phone.get_attribute("body", "data-kept") is not None)
    hand.set_offline(True)
    phone.goto(address + "/visit/Marigold")  # never opened before: out of what the worker kept
    assert phone.is_visible("#f-garden")
    hand.set_offline(False)
    screen.goto(here + "/settings")
    screen.click("text=Remove")
    phone.goto(address + "/history")
    assert phone.url == address + "/pair"
    trusted.close()


@pytest.mark.parametrize("size", [(390, 844), (1440, 900)], ids=["phone", "bench"])
def test_the_pages_of_trust_are_accessible(
    browser: Any, encrypted: tuple[str, str, Path], size: tuple[int, int], unmet: Any
) -> None:
    # axe-core's rules for WCAG 2.2 level A and AA
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, bypass_csp=True)
    page = context.new_page()
    for light in ("light", "dark", "night"):
        context.add_cookies([{"name": "nw-shown", "value": f"en.degC.metric.{light}", "url": encrypted[0]}])
        for place in ("/trust", "/pair/open"):
            assert page.goto(encrypted[0] + place).status == 200
            assert unmet(page) == [], (place, light)
    context.close()


@pytest.fixture
def quick(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[str, int]]:
    """A server in this process whose patience is short: another device's address, and its port."""
    host = own_address()
    monkeypatch.setattr(patience, "HEAD_SECONDS", 0.4)
    monkeypatch.setattr(guard, "BODY_SECONDS", 0.4)
    served = serving.prepare(create_workshop(tmp_path / "w", "UTC"), 0, lan=True, plain=True)
    server = uvicorn.Server(serving._config(served.app))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [served.place]})
    thread.start()
    yield host, served.place.getsockname()[1]
    server.should_exit = True
    thread.join(20)
    served.place.close()


def closed(link: socket.socket) -> bytes:
    """What is answered until the other side closes; a time-out is a failure."""
    got = b""
    try:
        while piece := link.recv(4096):
            got += piece
    except ConnectionError:
        pass
    return got


def test_a_slow_client_is_not_waited_for(quick: tuple[str, int]) -> None:
    host = quick[0].encode()
    form = b"Origin: http://" + host + b":%d\r\nContent-Type: application/x-www-form-urlencoded\r\n" % quick[1]
    head = b"POST /pair HTTP/1.1\r\nHost: " + host + b":%d\r\n" % quick[1] + form + b"Content-Length: 100\r\n\r\n"
    whole = b"GET /pair HTTP/1.1\r\nHost: " + host + b"\r\n\r\n"
    for sent, answer in ((b"", b""), (b"GET / HT", b""), (head + b"co", b" 408 ")):
        with socket.create_connection(quick, timeout=20) as link:
            link.sendall(sent)
            got = closed(link)
            assert answer in got if answer else not got, sent
    # one that is not slow is answered; when it becomes slow with what it asks next, it is left too
    with socket.create_connection(quick, timeout=20) as link:
        answer = http.client.HTTPResponse(link)
        link.sendall(whole)
        answer.begin()
        assert answer.status == 200
        answer.read()
        link.sendall(b"GET / H")
        assert closed(link) == b""


def test_one_device_cannot_hold_all_connections(quick: tuple[str, int], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(patience, "PER_DEVICE", 5)
    monkeypatch.setattr(patience, "HEAD_SECONDS", 60.0)
    held = [socket.create_connection(quick, timeout=20) for _ in range(5)]
    with socket.create_connection(quick, timeout=20) as more:
        assert closed(more) == b""
    with socket.create_connection(("127.0.0.1", quick[1]), timeout=20) as bench:
        bench.sendall(b"GET /history HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        assert b" 200 " in bench.recv(4096)
    for one in held:
        one.close()
