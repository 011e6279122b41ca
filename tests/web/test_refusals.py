"""What a page says of an address that asks for what is not there, and of a library that is not installed."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from nestwright.cli import main
from nestwright.web.app import create_app
from nestwright.web.habitat_files import sum_of
from nestwright.workshop.folder import create_workshop, find_workshop

EXAMPLES = Path(__file__).parents[2] / "examples" / "workshop"
HTML = {"accept": "text/html"}
GERMAN = HTML | {"accept-language": "de"}


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    folder = tmp_path_factory.mktemp("refusals") / "w"
    create_workshop(folder, "UTC")
    (folder / "habitats").mkdir(exist_ok=True)
    shutil.copy(EXAMPLES / "habitats" / "single-pot.toml", folder / "habitats")
    at = ("--workshop", str(folder))
    for arguments in (
        ("colony", "add", "Marigold", "--species", "Acromyrmex octospinosus"),
        ("build", "add", "P-1", "--habitat", str(folder / "habitats" / "single-pot.toml")),
    ):
        with pytest.raises(SystemExit) as left:
            main.run([*arguments, *at])
        assert not left.value.code
    app: Any = create_app(find_workshop(folder))
    return TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 1), follow_redirects=False)


@pytest.mark.parametrize(
    "path",
    ["/habitats/a%2Fb", "/habitats/a%2fb/parts", "/climate/a%2Fb", "/parcels/files/a%2Fb", "/colonies/a%2Fb",
     "/habitats/a%2Fb/section.svg"],
)  # fmt: skip
def test_a_name_with_a_stroke_is_told_as_it_was_asked_for(bench: TestClient, path: str) -> None:
    answer = bench.get(path, headers=HTML)
    assert answer.status_code == 422
    assert "a/b" in answer.text
    assert "\ue000" not in answer.text
    assert "ue000" not in answer.text


@pytest.mark.parametrize(
    ("path", "field", "allowed"),
    [
        ("/history?page=-4", "page", "most"),
        ("/history?mots=4", "mots", "did you mean “most”?"),
        ("/settings?x=1", "x", "nothing"),
    ],
)
def test_what_a_page_cannot_be_asked_for_is_refused(bench: TestClient, path: str, field: str, allowed: str) -> None:
    answer = bench.get(path, headers=HTML)
    assert answer.status_code == 422
    assert f"<strong>{field}</strong>: is nothing that this page can be asked for" in answer.text
    assert allowed in answer.text
    assert "ist nichts, wonach diese Seite gefragt werden kann" in bench.get(path, headers=GERMAN).text
    # what was just recorded is told on every page
    assert bench.get("/settings?done=1", headers=HTML).status_code == 200


def test_parcels_of_a_colony_that_is_none_name_the_nearest(bench: TestClient) -> None:
    answer = bench.get("/parcels?of=marigolt", headers=HTML)
    assert answer.status_code == 422
    assert "did you mean “Marigold”?" in answer.text
    assert "selected>Marigold" in bench.get("/parcels?of=marigold", headers=HTML).text


def test_a_library_that_is_not_installed_is_named_with_its_extra(
    bench: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    answer = bench.get("/builds/P-1/papers/certificate.pdf", headers=HTML)
    assert answer.status_code == 501
    assert "That cannot be done with what is installed" in answer.text
    assert "pip install &#39;nestwright[papers]&#39;" in answer.text
    assert "nicht installiert" in bench.get("/builds/P-1/papers/certificate.pdf", headers=GERMAN).text
    told = bench.get("/builds/P-1/papers/certificate.pdf", headers={"accept": "application/json"}).json()
    assert told["faults"][0]["found"] == "no typst"


def test_work_that_wants_a_library_that_is_not_installed_says_so() -> None:
    from nestwright.web.jobs import Job, Jobs

    def work(_: Job) -> None:
        raise ModuleNotFoundError("no module", name="cv2")

    job = Job("1", "k", "t", "/")
    Jobs._run(job, work)
    assert job.state == "failed"
    assert "nestwright[photo]" in str(job.error)


def test_what_another_window_took_back_is_told_where_the_reader_was(bench: TestClient) -> None:
    own = {"sec-fetch-site": "same-origin"}
    made = bench.post("/colonies/-new", data={"name": "Twice", "species": "Acromyrmex octospinosus"}, headers=own)
    place, _, step = made.headers["location"].partition("?done=")
    bench.post(f"/history/{step}/undo", headers=own)
    for came, back in ((f"http://127.0.0.1/builds?a=1&done={step}", f"/builds?a=1&done={step}"),
                       ("http://elsewhere.example/builds", f"/history?done={step}"),
                       ("", f"/history?done={step}")):  # fmt: skip
        answer = bench.post(f"/history/{step}/undo", headers=own | {"referer": came})
        assert answer.headers["location"] == back
    assert place == "/colonies/Twice"
    assert "Already taken back:" in bench.get(f"/history?done={step}", headers=HTML).text


def test_what_later_entries_belong_to_is_not_taken_back_and_the_history_says_so(bench: TestClient) -> None:
    own = {"sec-fetch-site": "same-origin"}
    made = bench.post("/colonies/-new", data={"name": "Lasting", "species": "Acromyrmex octospinosus"}, headers=own)
    step = made.headers["location"].partition("?done=")[2]
    bench.post("/visit/Lasting", data={"uid": "c" * 32, "garden": "44"}, headers=own)
    answer = bench.post(f"/history/{step}/undo", headers=own | HTML)
    assert answer.status_code == 422
    assert "later entries belong to it" in answer.text
    assert "<h1>History</h1>" in answer.text
    assert "Visit of Lasting" in answer.text
    told = bench.post(f"/history/{step}/undo", headers=own | {"accept": "application/json"}).json()
    assert "later entries belong to it" in told["faults"][0]["message"]


@pytest.mark.parametrize(
    ("path", "entry"),
    [
        ("/colonies/-new", {"name": "x" * 81, "species": "Acromyrmex octospinosus"}),
        ("/builds", {"serial": "x" * 81, "habitat": "single-pot"}),
        ("/habitats/long", {"text": f'name = "{"x" * 81}"'}),
    ],
)
def test_a_new_name_that_no_label_has_room_for_is_refused(bench: TestClient, path: str, entry: dict[str, str]) -> None:
    answer = bench.post(path, data=entry, headers=HTML | {"sec-fetch-site": "same-origin"})
    assert answer.status_code == 422
    assert "is too long" in answer.text
    assert "81 characters" in answer.text
    assert "1 to 80 characters" in answer.text


def test_a_long_name_that_stands_in_a_file_already_stays(bench: TestClient) -> None:
    workshop = bench.app.state.workshop  # type: ignore[attr-defined]
    text = f'name = "{"x" * 120}"\n'
    (workshop.folder / "habitats" / "old.toml").write_text(text, "utf-8")
    told = {"text": text + 'revision = "2"\n', "base": sum_of(text)}
    answer = bench.post("/habitats/old", data=told, headers=HTML | {"sec-fetch-site": "same-origin"})
    assert answer.status_code == 303
