"""Long work stands in line, two at a time; brief work does not wait for it."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

from nestwright.web.jobs import Job, Jobs


def test_brief_work_is_done_while_long_work_stands_in_line(until: Callable[[Callable[[], bool]], None]) -> None:
    jobs, done = Jobs(), threading.Event()

    def long(job: Job) -> None:
        while not done.is_set():
            job.report(0.5)
            time.sleep(0.005)

    try:
        going = [jobs.start(f"fit/{n}", "A fit", "/", long) for n in range(3)]
        until(lambda: [one.state for one in going] == ["running", "running", "waiting"])
        brief = jobs.start("verdicts", "Verdicts", "/habitats", lambda job: 7, brief=True)
        until(lambda: brief.state == "done")
        assert brief.result == 7
        assert jobs.start("verdicts", "Verdicts", "/habitats", lambda job: 8, brief=True) is brief
        assert [one.state for one in going] == ["running", "running", "waiting"]
        done.set()
        until(lambda: all(one.state == "done" for one in going))
    finally:
        done.set()
        jobs.close()


ENDED = """() => {
    const bar = document.createElement("div");
    bar.setAttribute("hx-get", "/jobs/ended");
    bar.setAttribute("hx-trigger", "load, again");
    document.querySelector("main").append(bar);
    htmx.process(bar);
}"""


def test_work_that_ends_as_its_page_is_left_does_not_call_back(bench: Any, pages: str) -> None:
    bench.route("**/jobs/ended", lambda route: route.fulfill(status=204, headers={"HX-Redirect": "/colonies"}))
    bench.goto(pages)
    bench.evaluate("() => dispatchEvent(new Event('beforeunload'))")
    with bench.expect_response("**/jobs/ended"):
        bench.evaluate(ENDED)
    bench.wait_for_timeout(600)
    assert bench.evaluate("location.pathname") == "/"
    # a page that was not left after all goes on
    bench.wait_for_url("**/colonies")
    bench.goto(pages)
    bench.evaluate(ENDED)
    bench.wait_for_url("**/colonies")


def test_a_question_that_got_no_answer_is_asked_again(bench: Any, pages: str) -> None:
    answers = [
        lambda route: route.abort(),
        lambda route: route.fulfill(status=503),
        lambda route: route.fulfill(status=204, headers={"HX-Redirect": "/colonies"}),
    ]
    bench.route("**/jobs/ended", lambda route: answers.pop(0)(route))
    bench.goto(pages)
    bench.evaluate(ENDED)
    bench.wait_for_url("**/colonies")
    assert not answers


def test_a_page_whose_work_the_bench_has_forgotten_comes_anew(bench: Any, pages: str) -> None:
    bench.route("**/jobs/ended", lambda route: route.fulfill(status=404))
    bench.goto(pages)
    with bench.expect_navigation():
        bench.evaluate(ENDED)
    assert bench.evaluate("location.pathname") == "/"
    assert not bench.locator("[hx-get='/jobs/ended']").count()
