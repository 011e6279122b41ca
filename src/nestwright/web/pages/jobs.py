"""Long work: how far it is, and stopping it."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from nestwright.web.faults import wants_json
from nestwright.web.render import job_at, page

router = APIRouter(prefix="/jobs")


@router.get("/{job}", response_class=HTMLResponse)
def look(request: Request, job: str) -> Response:
    """The bar of a job; when the work has ended, the browser is sent to the page that shows what came of it."""
    found = job_at(request, job)
    if wants_json(request) and "hx-request" not in request.headers:
        return JSONResponse(found.to_dict())
    if "hx-request" not in request.headers:
        return page(request, "job.html", job=found)
    if not found.going and found.error is None:
        return Response(status_code=204, headers={"HX-Redirect": found.back})
    bar = page(request, "job_bar.html", job=found)
    if not found.going:
        # what went wrong takes the place of the bar and of the button with it
        bar.headers.update({"HX-Retarget": "#job", "HX-Reselect": "#job"})
    return bar


@router.post("/{job}/stop")
def stop(request: Request, job: str) -> Response:
    """Stop a job."""
    found = job_at(request, job)
    found.stop()
    return RedirectResponse(found.back, 303)
