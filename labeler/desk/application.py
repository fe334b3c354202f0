"""The desk's application: its pages, its files, and what it says where something goes wrong."""

from __future__ import annotations

import re
from collections.abc import Awaitable, Callable, Iterator, Sequence
from pathlib import Path

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.body_limit import RequestBodyLimitMiddleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from labeler.catalog.structure import CATALOG_NAME
from labeler.desk.address import Address
from labeler.desk.guard import AccessGuard
from labeler.desk.page import FORM_BYTES, Ask, Desk, DeskPage, PageRoute, Upload, stopped
from labeler.desk.pages import (
    drafts,
    figures,
    line,
    lots,
    markets,
    prints,
    shops,
    take_in,
    tonight,
    work,
)
from labeler.files import shipped, system_refusal
from labeler.findings import Finding, LabelerError, Place, stop

PAGES: tuple[DeskPage, ...] = (
    tonight.PAGE,
    prints.PAGE,
    lots.PAGE,
    line.PAGE,
    shops.PAGE,
    markets.PAGE,
    take_in.PAGE,
    work.PAGE,
    figures.PAGE,
    drafts.PAGE,
)
"""The pages, in the order of a maker's week, as every page's head names them."""


def application(folder: Path, address: Address) -> tuple[ASGIApp, Desk]:
    """Return the application on a catalog folder, behind its guard, and what its pages share.

    Args:
        folder: the catalog's.
        address: where a browser reaches it.
    """
    desk = Desk(folder, PAGES)
    routes: list[BaseRoute] = [
        Route("/", _endpoint(desk, PageRoute("/", _begin))),
        Mount("/static", StaticFiles(directory=Path(__file__).parent / "static")),
        Mount("/fonts", StaticFiles(directory=shipped("fonts"))),
        *_routes(desk, desk.pages),
    ]
    app = Starlette(
        routes=routes,
        exception_handlers={
            HTTPException: _fault(desk, _of_protocol),
            Exception: _fault(desk, _of_ours),
        },
    )
    app.router.redirect_slashes = False
    return AccessGuard(app, address), desk


def _begin(ask: Ask) -> Response:
    """Lead to the first page; where there is no line yet, to where one is made."""
    if not (ask.folder / CATALOG_NAME).exists():
        return ask.went_to(take_in.PAGE.path)
    return ask.went_to(ask.desk.pages[0].path) if ask.desk.pages else ask.shown("frame.html.jinja")


def _routes(desk: Desk, pages: Sequence[DeskPage]) -> Iterator[Route]:
    for page in pages:
        for place in page.places:
            limit = Middleware(RequestBodyLimitMiddleware, max_body_size=place.most)
            yield Route(
                place.path, _endpoint(desk, place), methods=["POST" if place.post else "GET"],
                middleware=[limit],
            )  # fmt: skip


def _endpoint(desk: Desk, place: PageRoute) -> Callable[[Request], Awaitable[Response]]:
    """Return what answers at one place: it reads the form, and lets the page answer in a thread."""

    async def endpoint(request: Request) -> Response:
        if not place.post:
            return await run_in_threadpool(_answered, desk, place, Ask(desk, request))
        async with request.form(
            max_files=place.files, max_fields=FIELDS, max_part_size=FORM_BYTES
        ) as form:
            fields: dict[str, list[str]] = {}
            uploads: dict[str, list[Upload]] = {}
            for name, value in form.multi_items():
                if isinstance(value, UploadFile):
                    file = Upload(_plain(value.filename or ""), await value.read())
                    uploads.setdefault(name, []).append(file)
                else:
                    fields.setdefault(name, []).append(_plain(value))
        return await run_in_threadpool(_answered, desk, place, Ask(desk, request, fields, uploads))

    return endpoint


FIELDS = 20_000
"""Fields of one form: some for each of a large line's products. `FORM_BYTES` bounds them, too."""

_UNSEEN = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


def _plain(text: str) -> str:
    """Return what was typed, with one sign for the end of a line.

    Raises:
        HTTPException: if it holds what no key types.
    """
    if _UNSEEN.search(text):
        raise HTTPException(400)
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _answered(desk: Desk, place: PageRoute, ask: Ask) -> Response:
    with desk.readings.using():
        try:
            answer = place.answer(ask)
        except LabelerError as error:
            return stopped(ask, error)
        except OSError as error:
            return stopped(ask, LabelerError(system_refusal(error)))
        if place.post and answer.status_code == _LEADS_ON:  # what was typed is where it belongs
            path = ask.request.url.path.removeprefix(ask.request.scope["root_path"])
            desk.drafts.drop(path, ask.fields)
            for form in place.settles:
                desk.drafts.drop(form, {})
        return answer


_LEADS_ON = 303
"""The status of an answer to a form that was taken, RFC 9110, 15.4.4."""


Fault = Callable[[Request, Exception], Awaitable[Response]]


def _fault(desk: Desk, says: Callable[[Exception], tuple[int, Finding]]) -> Fault:
    """Return what shows a page where something went wrong before a page could answer, or in it."""

    async def answer(request: Request, error: Exception) -> Response:
        status, finding = says(error)

        def show() -> Response:
            with desk.readings.using():
                page = Ask(desk, request).shown("stopped.html.jinja", findings=(finding,))
            page.status_code = status
            return page

        return await run_in_threadpool(show)

    return answer


def _of_protocol(error: Exception) -> tuple[int, Finding]:
    status = error.status_code if isinstance(error, HTTPException) else 400
    words = {404: "the desk has no such page", 405: "the desk has no such page",
             413: "this is more than the desk takes at once"}  # fmt: skip
    return status, stop("desk-page", Place(), words.get(status, "the desk can't read this form"))


def _of_ours(error: Exception) -> tuple[int, Finding]:
    return 500, stop(
        "desk-fault", Place(), "the desk met a fault of its own, so this was not done",
        hint="What was done before stands. The window in which the desk was begun says more.",
    )  # fmt: skip
