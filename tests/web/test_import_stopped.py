"""An import that is stopped in the page, in the midst of a large file: nothing stays, and it can be begun again."""

from __future__ import annotations

import time
from functools import partial
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from nestwright.web.app import create_app
from nestwright.web.jobs import Job
from nestwright.workshop import imports
from nestwright.workshop.database import reading
from nestwright.workshop.folder import Workshop, create_workshop

ROWS = 20_000
SAME_SITE = {"sec-fetch-site": "same-origin"}


def rows(shop: Workshop) -> tuple[int, int]:
    """Readings and loggers of the record."""
    with reading(shop.engine) as connection:
        counts = [connection.exec_driver_sql(f"SELECT count(*) FROM {t}").scalar() for t in ("reading", "logger")]
    return int(counts[0] or 0), int(counts[1] or 0)


def settled(bench: TestClient) -> None:
    for _ in range(600):
        if not any(job.going for job in bench.app.state.jobs._all.values()):  # type: ignore[attr-defined]
            return
        time.sleep(0.05)
    raise AssertionError("the work does not end")


def test_a_stopped_import_leaves_nothing_and_is_stored_whole_the_next_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop = create_workshop(tmp_path / "w", "UTC")
    # as a file of hundreds of MB: read in pieces, hidden in the record until it is whole
    pieces = partial(imports.import_in_pieces, size=1 << 16, at_once=4000)
    monkeypatch.setattr(imports, "import_in_pieces", pieces)
    bench = TestClient(create_app(shop), base_url="http://127.0.0.1", client=("127.0.0.1", 1), headers=SAME_SITE)
    lines = [f"2025-{1 + k // 40_320:02}-{1 + k // 1440 % 28:02} {k // 60 % 24:02}:{k % 60:02},{k % 9 + 20}.5"
             for k in range(ROWS)]  # fmt: skip
    content = "\n".join(["time,temperature_degC", *lines])
    sent = bench.post(
        "/import", data={"logger": "shelf"}, files={"file": ("shelf.csv", content)}, follow_redirects=False
    )
    address = sent.headers["location"]
    shares: list[float] = []
    report = Job.report

    def stopped(job: Job, share: float) -> None:
        shares.append(share)
        if share > 0.3:  # some of it is in the record already: as if Stop were pressed now
            bench.post(f"/jobs/{job.id}/stop", follow_redirects=False)
        report(job, share)

    with monkeypatch.context() as patch:
        patch.setattr(Job, "report", stopped)
        bench.post(address, data={"zone": "UTC", "unit": "degC", "act": "store"})
        settled(bench)
    assert 0.3 < shares[-1] < imports.READING
    assert rows(shop) == (0, 0)
    assert "nothing is stored yet" in bench.get(address).text
    bench.post(address, data={"zone": "UTC", "unit": "degC", "act": "store"})
    settled(bench)
    assert rows(shop) == (ROWS, 1)
