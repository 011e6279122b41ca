"""Who may ask the page for what: pairing, other sites and names, too much; an attack out of its own description."""

from __future__ import annotations

import html
import re
import struct
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from starlette.testclient import TestClient

from nestwright.web.app import create_app
from nestwright.web.guard import MOST_BYTES
from nestwright.workshop.folder import create_workshop, find_workshop

NAME = "192.0.2.2"  # TEST-NET-1, RFC 5737
ADDRESS = f"http://{NAME}"
OURS = {"origin": ADDRESS}


@pytest.fixture
def app(tmp_path: Path) -> Any:
    return create_app(create_workshop(tmp_path / "w", "UTC"), names=(NAME,), lan=True)


def client(app: Any, host: str = "192.0.2.9") -> TestClient:
    return TestClient(app, base_url=ADDRESS, client=(host, 50_000), follow_redirects=False)


def code_of(app: Any) -> str:
    return str(app.state.devices.open_code())


def test_another_device_is_let_in_by_its_code_and_out_again(app: Any) -> None:
    phone = client(app)
    assert phone.get("/", headers={"accept": "text/html"}).headers["location"] == "/pair"
    assert phone.get("/history").status_code == 401
    assert phone.get("/pair").status_code == 200
    assert phone.get("/pair/open").status_code == 401
    code = code_of(app)
    assert phone.post("/pair", data={"code": "12"}, headers=OURS).status_code == 403
    answer = phone.post("/pair", data={"code": f"{code[:4]} {code[4:]}", "name": "phone"}, headers=OURS)
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert phone.get("/history").status_code == 200
    assert phone.get("/pair/open").status_code == 403, "the code is shown on the bench's screen only"
    # a code is good once
    assert client(app).post("/pair", data={"code": code}, headers=OURS).status_code == 403
    key = app.state.devices.paired()[0].key
    phone.post(f"/settings/devices/{key}/remove", headers=OURS)
    assert phone.get("/history").status_code == 401


def test_five_wrong_codes_end_the_code_and_a_secret_is_not_in_the_record(app: Any) -> None:
    code, phone = code_of(app), client(app)
    for n in range(5):
        assert phone.post("/pair", data={"code": f"{(int(code) + n + 1) % 10**8:08d}"}, headers=OURS).status_code == 403
    assert phone.post("/pair", data={"code": code}, headers=OURS).status_code == 403
    secret = app.state.devices.pair(code_of(app), "phone")
    assert secret
    assert secret.encode() not in app.state.workshop.database.read_bytes()


def test_after_ten_wrong_codes_none_is_looked_at_for_a_minute(app: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    # OWASP ASVS, "anti-automation": also with new codes opened in between, and whoever tries
    from nestwright.web import devices

    clock = [1000.0]
    monkeypatch.setattr(devices, "monotonic", lambda: clock[0])
    for n in range(10):
        code = code_of(app)
        wrong = f"{(int(code) + 1) % 10**8:08d}"
        answer = client(app, f"192.0.2.{10 + n}").post("/pair", data={"code": wrong}, headers=OURS)
        assert answer.status_code == 403
    late = client(app).post("/pair", data={"code": code_of(app)}, headers=OURS)
    assert late.status_code == 429
    assert late.headers["retry-after"] == "60"
    clock[0] += 60
    assert client(app).post("/pair", data={"code": code_of(app)}, headers=OURS).status_code == 303


def test_a_device_that_is_not_paired_sends_little(app: Any) -> None:
    much = {"code": "1" * 20_000}
    assert client(app).post("/pair", data=much, headers=OURS).status_code in (400, 413)
    assert client(app, "127.0.0.1").post("/pair", data=much, headers=OURS).status_code == 403


def test_what_is_open_is_open_by_its_whole_path(app: Any) -> None:
    for path in ("/pair/../history", "/pairs", "/trust/x", "/pair%2f..%2fhistory", "//pair", "/history?x=/pair"):
        assert client(app).get(path).status_code == 401, path


def test_without_lan_no_other_device_is_answered(tmp_path: Path) -> None:
    app = create_app(create_workshop(tmp_path / "w", "UTC"), names=(NAME,))
    assert client(app).get("/pair").status_code == 403
    assert client(app, "127.0.0.1").get("/history").status_code == 200


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 403),
        ({"origin": "http://elsewhere.example"}, 403),
        ({"origin": "null"}, 403),
        ({"sec-fetch-site": "cross-site"}, 403),
        ({"sec-fetch-site": "same-site", **OURS}, 403),
        ({"host": "elsewhere.example", "origin": "http://elsewhere.example"}, 421),
        ({"host": f"{NAME}:80/pair?", **OURS}, 421),
        ({"host": "", **OURS}, 421),
        ({"content-length": str(MOST_BYTES + 1), **OURS}, 413),
        ({"content-length": "-1", **OURS}, 400),
    ],
)
def test_what_may_not_come_in_is_refused_before_any_page(app: Any, headers: dict[str, str], status: int) -> None:
    bench = client(app, "127.0.0.1")
    assert bench.post("/history/undo", headers=headers).status_code == status


def test_a_body_of_untold_length_ends_at_the_limit(app: Any) -> None:
    def endless() -> Iterator[bytes]:
        for _ in range(MOST_BYTES // 1_000_000 + 2):
            yield b"x" * 1_000_000

    answer = client(app, "127.0.0.1").post("/history/undo", content=endless(), headers=OURS)
    assert answer.status_code in (303, 413)  # a page that reads no body does not wait for it
    form = {"content-type": "application/x-www-form-urlencoded", **OURS}
    answer = client(app, "127.0.0.1").post("/settings", content=endless(), headers=form)
    assert answer.status_code in (400, 413)


@pytest.mark.parametrize(
    "path", ["/static/../app.py", "/static/%2e%2e/app.py", "/habitats/..%2f..%2fetc", "/photos/../x"]
)
def test_no_path_leads_out(app: Any, path: str) -> None:
    assert client(app, "127.0.0.1").get(path).status_code in (404, 422)


HOSTILE = (
    "..",
    "..%2f..%2foutside",
    "%2e%2e%2f%2e%2e%2foutside",
    "..%5c..%5coutside",
    "%2fetc%2fpasswd",
    "workshop.db",
    "..%2fworkshop.db",
    "..%2f.page%2fauthority.key",
    "a%00b",
    "%ff%fe",
    "-1",
    "%3Cscript%3Ealert(1)%3C%2Fscript%3E",
    "x" * 5000,
)


def test_no_name_in_an_address_leads_out_of_the_workshop(workshop: Path) -> None:
    # every route that takes a name, found by itself: OWASP Web Security Testing Guide, "Testing Directory Traversal"
    made = find_workshop(workshop)
    app = create_app(made, names=(NAME,))
    outside = workshop.parent / "outside.toml"
    outside.write_text("name = 'KEPT-OUTSIDE'\n")
    inside = {one for one in workshop.parent.rglob("*") if one.is_file() and ".cache" not in one.parts}
    bench = TestClient(app, base_url=ADDRESS, client=("127.0.0.1", 1), follow_redirects=False)
    asked = 0
    for path, methods in app.openapi()["paths"].items():
        if "{" not in path:
            continue
        for method in methods:
            for name in HOSTILE:
                told = {"data": {"text": "x", "name": "../../outside", "code": name}} if method == "post" else {}
                address = re.sub(r"\{[^}]*\}", name, path)
                answer = bench.request(method, address, headers=OURS | {"accept": "text/html"}, **told)
                asked += 1
                assert answer.status_code < 500, (method, path, name)
                assert "KEPT-OUTSIDE" not in answer.text
                assert b"SQLite format" not in answer.content
                assert "PRIVATE KEY" not in answer.text
                assert "<script>alert(1)" not in answer.text, (method, path)
    assert asked > 200
    after = {one for one in workshop.parent.rglob("*") if one.is_file() and ".cache" not in one.parts}
    # the database's own logs come and go
    assert {one for one in after ^ inside if not one.name.startswith("workshop.db")} == set()
    assert outside.read_text() == "name = 'KEPT-OUTSIDE'\n"


@pytest.mark.parametrize(
    ("method", "path"),
    [
        ("get", "/visit?visit={}"),
        ("get", "/photos/{}"),
        ("get", "/photos/{}/small"),
        ("post", "/history/{}/undo"),
    ],
)
def test_a_number_larger_than_any_row_is_answered(app: Any, method: str, path: str) -> None:
    bench = TestClient(app, base_url=ADDRESS, client=("127.0.0.1", 1), raise_server_exceptions=False)
    assert bench.request(method, path.format(2**63), headers=OURS).status_code < 500


def blank_png(wide: int, high: int) -> bytes:
    """A picture of very many pixels in few bytes (PNG, ISO/IEC 15948): one bit each, all the same."""
    packed = zlib.compressobj(9)
    row = bytes(1 + (wide + 7) // 8)
    rows = b"".join(packed.compress(row * 500) for _ in range(high // 500)) + packed.flush()

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", wide, high, 1, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        # beyond the limit at which the library itself stops, and below it
        (blank_png(20_000, 20_000), "too many pixels"),
        (blank_png(13_000, 13_000), "too many pixels"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", "no picture"),
        (b"<!doctype html><script>alert(1)</script>", "no picture"),
        (b"\x89PNG\r\n\x1a\n" + b"x" * 400, "picture"),
        (b"MZ" + bytes(400), "no picture"),
    ],
    ids=["bomb", "large", "svg", "html", "broken", "program"],
)
def test_what_is_no_photograph_is_refused_and_not_kept(workshop: Path, content: bytes, said: str) -> None:
    made = find_workshop(workshop)
    bench = client(create_app(made, names=(NAME,)), "127.0.0.1")
    kept = sorted((workshop / "photos").rglob("*"))
    picture = {"pictures": ("../../leaf.jpg", content, "image/jpeg")}
    asked = {"accept": "application/json", **OURS}
    answer = bench.post("/colonies/Marigold/photos", files=picture, headers=asked)
    assert answer.status_code == 422
    assert said in answer.json()["faults"][0]["message"]
    told = {"colony": "Marigold", "garden": "200", "uid": "0" * 7 + "1-0000-4000-8000-" + "0" * 12}
    answer = bench.post("/api/visits", data=told, files=picture, headers=OURS)
    assert answer.status_code == 422
    assert any(said in one["message"] for one in answer.json()["faults"]), answer.text
    assert sorted((workshop / "photos").rglob("*")) == kept


@pytest.mark.parametrize("name", ["<script>alert(1)", '"><img src=x onerror=alert(1)>', "=1+1|'!A0", "{{7*7}}"])
def test_a_name_is_a_name_on_every_page(workshop: Path, name: str) -> None:
    # OWASP Cross Site Scripting Prevention Cheat Sheet: output is encoded where it is put in
    made = find_workshop(workshop)
    bench = client(create_app(made, names=(NAME,)), "127.0.0.1")
    told = {"name": name, "species": "Atta cephalotes", "start": "2025-03-01", "garden": "100 mL", "chamber": "1 L",
            "note": name, "origin": name}  # fmt: skip
    answer = bench.post("/colonies/-new", data=told, headers=OURS)
    assert answer.status_code == 303, answer.text
    seen = 0
    for place in ("/", "/colonies", answer.headers["location"], "/history", "/visit", f"/search?q={quote(name)}"):
        shown = bench.get(place, headers={"accept": "text/html"}).text
        assert "<script>alert" not in shown
        assert "<img src=x" not in shown
        seen += html.escape(name) in shown.replace("&#34;", "&quot;").replace("&#39;", "&#x27;")
    assert seen >= 4


def test_the_api_stands_an_attack_out_of_its_own_description(example_workshop: Path) -> None:
    import schemathesis

    app = create_app(find_workshop(example_workshop), names=(NAME,))
    schema = schemathesis.openapi.from_asgi("/openapi.json", app).include(path_regex="^/api/")
    seen = []

    for result in schema.get_all_operations():
        operation = result.ok()
        seen.append(operation.path)
        strategy = operation.as_strategy()

        @settings(max_examples=12, deadline=None, database=None, suppress_health_check=list(HealthCheck))
        @given(case=strategy)
        def attack(case: Any) -> None:
            answer = case.call(headers={"origin": "http://testserver"}, base_url="http://testserver")
            assert answer.status_code < 500, (case.body, answer.text)

        attack()
    assert "/api/habitats/live" in seen


def test_every_answer_has_its_headers_and_a_fault_tells_nothing_of_the_inside(
    app: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    # OWASP Secure Headers Project, and ASVS chapters on errors and on headers
    from nestwright.web.pages import history

    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("inside-secret")

    bench = TestClient(app, base_url=ADDRESS, client=("127.0.0.1", 1), raise_server_exceptions=False)
    answers = [bench.get(path) for path in ("/", "/settings", "/nowhere", "/static/style.css", "/openapi.json")]
    answers.append(client(app).get("/history"))
    monkeypatch.setattr(history, "page", broken)
    answers.append(bench.get("/history", headers={"accept": "text/html"}))
    assert [one.status_code for one in answers] == [200, 200, 404, 200, 200, 401, 500]
    for one in answers:
        assert "inside-secret" not in one.text
        assert "Traceback" not in one.text
        assert one.headers["x-content-type-options"] == "nosniff"
        assert one.headers["referrer-policy"] == "same-origin"
        assert one.headers["x-frame-options"] == "DENY"
        told = one.headers["content-security-policy"]
        assert "frame-ancestors 'none'" in told
        assert "unsafe" not in told


def test_what_a_program_can_ask_for_is_described(app: Any) -> None:
    page = (Path(__file__).parents[2] / "docs" / "guide" / "serve.md").read_text("utf-8")
    described = app.openapi()
    for path, methods in described["paths"].items():
        for told in methods.values():
            assert told.get("description"), f"{path} says nothing of itself"
        if path.startswith("/api/"):
            assert f"`{path}`" in page, f"{path} is not in docs/guide/serve.md"


def test_what_the_list_says_is_tested_is_tested() -> None:
    root = Path(__file__).parents[2]
    told = (root / "docs" / "how-it-computes" / "safety-of-the-page.md").read_text("utf-8")
    tests = "".join(file.read_text("utf-8") for file in Path(__file__).parent.glob("test_*.py"))
    named = set(re.findall(r"`(test_\w+)`", told))
    assert len(named) > 15
    assert not [name for name in named if f"def {name}(" not in tests]
