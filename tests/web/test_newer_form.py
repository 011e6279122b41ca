"""A page that goes on while a newer version of the program takes its record says so, and is no fault of the program."""

import logging
import sqlite3
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from nestwright.errors import InputError
from nestwright.web.app import create_app
from nestwright.web.watch import Watch
from nestwright.workshop.database import HEAD, NewerFormError, reading, writing
from nestwright.workshop.folder import Workshop, create_workshop

NEWER = f"{int(HEAD) + 1:04}"


@pytest.fixture
def shop(tmp_path: Path) -> Workshop:
    return create_workshop(tmp_path / "w", "UTC")


def bring_on(shop: Workshop) -> None:
    """What a newer version does to the record first of all."""
    link = sqlite3.connect(shop.database)
    link.execute("UPDATE alembic_version SET version_num = ?", (NEWER,))
    link.commit()
    link.close()


@pytest.mark.parametrize("asked_before", [True, False])
def test_every_page_says_that_the_workshop_is_of_a_newer_form(shop: Workshop, asked_before: bool) -> None:
    bench = TestClient(create_app(shop), base_url="http://127.0.0.1", client=("127.0.0.1", 1))
    _ = shop.engine
    if asked_before:
        assert bench.get("/sensors").status_code == 200
    bring_on(shop)
    for ask in (bench.get("/sensors"), bench.post("/sensors/none/want", headers={"sec-fetch-site": "same-origin"})):
        assert ask.status_code == 503
        assert "has been brought to a newer form: start nestwright serve anew" in ask.text
        assert f"form {NEWER}" in ask.text
    told = bench.get("/sensors", headers={"accept": "application/json"})
    assert told.status_code == 503


def test_nothing_is_read_or_written_by_a_program_that_is_too_old(shop: Workshop) -> None:
    engine = shop.engine
    bring_on(shop)
    for way in (reading, writing):
        with pytest.raises(NewerFormError, match=f"newer form.*found form {NEWER}.*form {HEAD} or older"), way(engine):
            raise AssertionError("let in")
    with pytest.raises(InputError, match="newer version of this program, which must be installed"):
        _ = Workshop(shop.folder).engine


def test_the_terminal_is_told_once(shop: Workshop, caplog: pytest.LogCaptureFixture) -> None:
    app = create_app(shop)
    watch: Watch = app.state.watch
    _ = shop.engine
    bring_on(shop)
    with caplog.at_level(logging.ERROR, logger="nestwright.web"):
        watch.look_once()
        watch.look_once()
    assert [("newer form" in one.message, one.exc_info) for one in caplog.records] == [(True, None)]
    assert "newer form" in watch.fault
