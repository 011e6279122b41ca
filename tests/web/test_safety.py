"""Who may ask the page for what: pairing, other sites and names, too much; an attack out of its own description."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

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
