"""Papers of a build and sales on the page: the same as those of the commands, guarded like every page."""

from __future__ import annotations

import time
from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

from nestwright.workshop.builds import add_build
from nestwright.workshop.buyers import buyers
from nestwright.workshop.changes import act
from nestwright.workshop.database import reading, writing
from nestwright.workshop.sales import sales

HOSTILE = 'P/1 <b>x</b> #panic() "]'


@pytest.fixture
def client(tmp_path: Any) -> Any:
    from fastapi.testclient import TestClient

    from nestwright.cli import demo
    from nestwright.web.app import create_app
    from nestwright.workshop.folder import create_workshop

    workshop = create_workshop(tmp_path / "shop", "UTC")
    file = "habitats/single-pot.toml"
    (workshop.folder / file).write_text((demo.example_workshop() / file).read_text())
    with writing(workshop.engine) as connection:
        done = act(connection, "builds")
        for serial in (HOSTILE, "P-2"):
            add_build(done, {"serial": serial, "habitat": file, "revision": "3", "made": "2026-01-02"})
    own = {"origin": "http://127.0.0.1"}
    with TestClient(create_app(workshop), base_url="http://127.0.0.1", client=("127.0.0.1", 5), headers=own) as one:
        one.workshop = workshop
        yield one


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def address(kind: str) -> str:
    from nestwright.web.pages.builds import address_of

    return f"{address_of(HOSTILE)}/papers/{kind}"


def test_certificate_and_label_are_those_of_the_command(client: Any) -> None:
    from datetime import datetime

    from nestwright.papers.certificate import certificate_of, certificate_pdf
    from nestwright.workshop.builds import find_build

    with reading(client.workshop.engine) as connection:
        made = find_build(connection, HOSTILE)
    today = datetime.now(client.workshop.zone).date()
    answer = client.get(address("certificate.pdf"), params={"language": "de"})
    assert answer.content == certificate_pdf(certificate_of(made, "Single pot"), today, "de")
    assert answer.headers["content-disposition"].startswith("attachment")
    assert HOSTILE in text_of(client.get(address("label.pdf")).content)
    answer = client.get(address("label.pdf"), params={"sheet": "a4-24", "skip": "23"})
    (sheet,) = PdfReader(BytesIO(answer.content)).pages
    assert round(float(sheet.mediabox.width) / 72 * 25.4) == 210
    shown = client.get(address("").removesuffix("/papers/")).text
    assert '<option value="a4-40">40 a page, 52.5 × 29.7 mm</option>' in shown
    assert 'name="year"' in shown


def test_a_dossier_of_the_page_can_be_of_the_whole_record(client: Any, monkeypatch: Any, until: Any) -> None:
    """What is run through is the room's record, and the paper is made of that run."""
    from types import SimpleNamespace

    asked: dict[str, Any] = {}

    def made(workshop: Any, file: str, room: str, rows: Any, *, run: Any, language: str, report: Any) -> Any:
        asked.update(run=run, room=room)
        return SimpleNamespace(pdf=b"%PDF-")

    monkeypatch.setattr("nestwright.climate.proof.prove_year", lambda design, air, progress: (design.name, air.source))
    monkeypatch.setattr("nestwright.papers.dossier_made.make_dossier", made)
    for year, wanted in (("1", "Single pot"), ("", None)):
        params = {"room": "22 degC, 50 %"} | ({"year": year} if year else {})
        until(lambda params=params: client.get(address("dossier.pdf"), params=params).content == b"%PDF-")
        assert asked["room"] == "22 degC, 50 %"
        assert (asked["run"] or [None])[0] == wanted


def test_a_care_sheet_is_waited_for_and_its_phone_page_runs_nothing(client: Any) -> None:
    kind = address("care-sheet.html")
    answer = client.get(kind)
    for _ in range(600):
        if "Care sheet:" in answer.text:
            break
        time.sleep(0.2)
        answer = client.get(kind)
    assert "<b>x</b>" not in answer.text
    assert "&lt;b&gt;x&lt;/b&gt;" in answer.text
    policy = answer.headers["content-security-policy"]
    assert policy.startswith("default-src 'none'; style-src 'sha256-")
    assert "script" not in policy


@pytest.mark.parametrize(
    ("kind", "params", "status"),
    [
        ("care-sheet.pdf", {"language": "xx"}, 422),
        ("label.pdf", {"language": "../de"}, 422),
        ("dossier.pdf", {"room": "x" * 999}, 422),
        ("dossier.pdf", {"room": "/etc/hostname"}, 422),
        ("label.pdf", {"sheet": "a4-9"}, 422),
        ("label.pdf", {"sheet": "a4-24", "skip": "24"}, 422),
        ("passwd", {}, 404),
    ],
)
def test_what_cannot_be_is_refused(client: Any, kind: str, params: dict[str, str], status: int) -> None:
    assert client.get(address(kind), params=params).status_code == status


def test_a_build_is_sold_recalled_returned_and_its_buyer_erased(client: Any) -> None:
    def post(path: str, **data: str) -> Any:
        return client.post(f"/sales/{path}", data=data, follow_redirects=False)

    assert post("buyers", name="Ada <i>", contact="ada@example.org").status_code == 303
    assert post("sold", build="P-2", buyer="Ada <i>", price="1,234.50 EUR").status_code == 303
    assert post("sold", build="P-2", buyer="Ada <i>").status_code == 422
    shown = client.get("/sales", params={"design": "single-pot", "revision": "3"}).text
    assert "ada@example.org" in shown
    assert "1234.50 EUR" in shown
    assert "Ada &lt;i&gt;" in shown
    assert "Ada <i>" not in shown
    assert post("feedback", build="P-2", kind="fault", words="the lid is stiff").status_code == 303
    assert post("feedback", build="P-2", kind="shout", words="x").status_code == 422
    assert client.get("/sales/about", params={"name": "Ada <i>"}).json()["contact"] == "ada@example.org"
    assert post("returned", build="P-2", reason="too small").status_code == 303
    with reading(client.workshop.engine) as connection:
        assert [(s.build, s.buyer, s.price, s.reason) for s in sales(connection)] == [
            ("P-2", "Ada <i>", 1234.5, "too small")
        ]
    assert post("erase", buyer="Ada <i>", name="").status_code == 422
    with reading(client.workshop.engine) as connection:
        assert [b["name"] for b in buyers(connection)] == ["Ada <i>"]
    assert post("erase", buyer="Ada <i>", name="ada <I>").status_code == 303
    shown = client.get("/history").text
    erased = shown[shown.index("Buyer erased on request") :].partition("</li>")[0]
    assert "taken back" not in erased
    assert "undo" not in erased
    assert b"Ada" not in b"".join(f.read_bytes() for f in client.workshop.folder.glob("*.db*"))
    assert "ada@example.org" not in client.get("/sales").text


def test_another_site_cannot_erase(client: Any) -> None:
    client.post("/sales/buyers", data={"name": "Ada"})
    headers = {"origin": "http://elsewhere.example", "sec-fetch-site": "cross-site"}
    assert client.post("/sales/erase", data={"buyer": "Ada", "name": "Ada"}, headers=headers).status_code == 403
    with reading(client.workshop.engine) as connection:
        assert [b["name"] for b in buyers(connection)] == ["Ada"]


def test_in_a_browser_a_sale_is_recorded_and_a_paper_is_loaded(bench: Any, served: str) -> None:
    bench.goto(served + "/sales")
    bench.click("text=Add a buyer")
    bench.fill("#f-name", "Mira")
    bench.click("text=Record the buyer")
    bench.click("text=Record a sale")
    bench.select_option("#f-sold-build", "P-001")
    bench.click("button:has-text('Record the sale')")
    assert "Mira" in bench.inner_text("#sold + ul")
    bench.goto(served + "/builds/P-001")
    bench.select_option("#f-language", "de")
    with bench.expect_download() as loaded:
        bench.click("button:has-text('Certificate')")
    with open(loaded.value.path(), "rb") as file:
        assert "Tag und Unterschrift" in text_of(file.read())
