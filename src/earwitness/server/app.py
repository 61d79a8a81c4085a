"""The pages as a web application: who asks, at which site, with what; and the answer as a page or as JSON."""

from __future__ import annotations

import gc
import json
import logging
import re
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, quote, unquote

from markupsafe import escape
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Mount
from starlette.routing import Route as WebRoute
from starlette.staticfiles import StaticFiles

from earwitness.errors import EarwitnessError, InputError
from earwitness.sentence import Sentence, say
from earwitness.server import entrance, not_judged
from earwitness.server.ask import NOBODY, Ask, Went
from earwitness.server.guard import Guard
from earwitness.server.house import House
from earwitness.server.jobs import Worker
from earwitness.server.labels import with_label
from earwitness.server.openapi import openapi
from earwitness.server.page import Page, Route
from earwitness.server.refusal import Refusal, as_json, not_found, too_large
from earwitness.server.shape import as_plain, read_shape
from earwitness.server.templates import Templates
from earwitness.units import UnitError

MOST_BODY = 1_000_000  # bytes of a form or of JSON
log = logging.getLogger("earwitness")


@dataclass
class Frame:
    house: House
    pages: Sequence[Page]
    templates: Templates
    worker: Worker
    doors: dict[Any, tuple[Page, Route]] = field(default_factory=dict)  # what stands behind each endpoint

    def endpoint(self, page: Page, route: Route, api: bool) -> Callable[[Request], Any]:
        async def answer(request: Request) -> Response:
            try:
                body = await _body(request) if route.method == "POST" else b""
                return await run_in_threadpool(self._answer, request, page, route, api, body)
            except Exception as error:
                return await run_in_threadpool(self.failed, request, error, api)

        self.doors[answer] = page, route
        return answer

    def ask_of(self, request: Request) -> Ask:
        """Who asks, and where. A site that somebody may not see is not there."""
        who = self._who(request)
        sites = self.house.sites(who)
        here = None
        if "site" in request.path_params:
            here = self.house.by_tag(sites, request.path_params["site"])
        return Ask(
            self.house, who, here, sites, request.path_params, dict(request.query_params), request.cookies,
            request.url.scheme, request.url.netloc,
        )  # fmt: skip

    def _who(self, request: Request) -> Any:
        if not self.house.accounts:
            return self.house.at_this_machine(unquote(request.cookies.get(entrance.YOUR_NAME, "")))
        return self.house.gate.who(request.cookies.get(entrance.cookie_name(request.url.scheme))) or NOBODY

    def _answer(self, request: Request, page: Page, route: Route, api: bool, body: bytes) -> Response:
        ask = self.ask_of(request)
        if route.role is not None:
            if not ask.who.name:
                raise Refusal(401, "sign-in-needed", "Sign in first.")
            if "site" in request.path_params:
                if ask.site_here is None:
                    raise not_found("site")
                if not ask.who.may(route.role, ask.site.id):
                    text = "This needs the role “{role}” at {site}; ask whoever administers it."
                    raise Refusal(403, "role-missing", text, role=route.role, site=ask.site.name)
            elif route.role == "administer" and not ask.who.may("administer", None):
                raise Refusal(403, "role-missing", "This needs the role “administer” at every site.")
        given = _given(request, body) if route.takes is not None else {}
        extra = (read_shape(route.takes, given),) if route.takes is not None else ()
        found = route.answer(ask, *extra)
        if isinstance(found, Response):
            return found
        if isinstance(found, Went):
            self.worker.wake()
            return JSONResponse(as_plain(found)) if api else _went(request, found)
        if api or route.template is None:
            return JSONResponse(as_plain(found))
        return HTMLResponse(self.templates.render(route.template, page, ask, found))

    def failed(self, request: Request, error: Exception, api: bool) -> Response:
        if isinstance(error, Refusal):
            status, sentence = error.status, error.sentence
        elif isinstance(error, EarwitnessError):
            of = _field_of(error)
            reason = _ended(str(error)) if of else _begun(_ended(str(error)))
            status, sentence = 422, say("refused", "{reason}", reason=reason, **of)
        elif isinstance(error, HTTPException):
            status, sentence = error.status_code, _sentence_of(request, error)
        elif isinstance(error, FileNotFoundError) and self.house.ledger.store.folder in Path(error.filename).parents:
            text = "A file that was filed is not in the folder of recordings; bring it back from a backup."
            status, sentence = 404, say("file-missing", text)
        elif isinstance(error, ClientDisconnect):
            status, sentence = 400, say("cut-short", "The request came only in part.")
        else:
            log.error("answering %s %s", request.method, request.url.path, exc_info=error)
            status = 500
            sentence = say(
                "program-failed", "This failed for a reason of the program's own; it is in the server's log."
            )
        if api or "application/json" in request.headers.get("accept", ""):
            return JSONResponse(as_json(sentence), status)
        if status == 401 and request.method == "GET":
            return RedirectResponse(f"/sign-in?to={quote(_path_of(request), safe='')}", 303)
        if request.headers.get("hx-request") and request.headers.get("hx-target") != "content":  # a part of a page
            return HTMLResponse(f'<p class="refused">{escape(sentence.text)}</p>', status)
        to = self._in_front_of(request) if status == 405 or request.method == "POST" else ""
        if status == 422 and request.method == "GET":
            to = request.url.path  # as it is before anything is asked of it
        ask = self._ask_or_none(request)
        if ask is not None and "field" in sentence.args:
            sentence = replace(sentence, text=self._by_label(request, ask, sentence))
        return HTMLResponse(self.templates.failed(ask, status, sentence, to), status)

    def _by_label(self, request: Request, ask: Ask, sentence: Sentence) -> str:
        """What is wrong with a field, by the label that it has on the page with the form."""
        at = self._view_in_front_of(request)
        page, route = next(((p, r) for p in self.pages for r in p.routes if r.template and r.path == at), (None, None))
        if page is None or route is None or route.takes is not None:
            return sentence.text
        try:
            shown = self.templates.render(str(route.template), page, ask, route.answer(ask))
        except EarwitnessError:
            return sentence.text
        return with_label(sentence.text, str(sentence.args["field"]), shown, request.url.path)

    def _in_front_of(self, request: Request) -> str:
        """The page on which the form stands that is sent to this address."""
        try:
            return self._view_in_front_of(request).format(**request.path_params)
        except KeyError:
            return ""

    def _view_in_front_of(self, request: Request) -> str:
        page, route = self.doors.get(request.scope.get("endpoint"), (None, None))
        if page is None or route is None:
            return ""
        shown = [
            r.path for r in page.routes if r.method == "GET" and r.template and route.path.startswith(r.path + "/")
        ]
        return max(shown, key=len, default=f"/site/{{site}}/{page.under or page.home or page.name}")

    def _ask_or_none(self, request: Request) -> Ask | None:
        try:
            return self.ask_of(request)
        except Exception:
            return None


def make_app(house: House, pages: Sequence[Page], *, templates: Sequence[Path], static: Path) -> Guard:
    """The application of these pages; `templates` are searched in order, before the frame's own."""
    every = [*pages, entrance.page, not_judged.page]
    worker = Worker(house, {kind: job for page in every for kind, job in page.jobs.items()})
    house.wake = worker.wake
    frame = Frame(house, every, Templates(templates, pages), worker)
    routes: list[BaseRoute] = [Mount("/static", StaticFiles(directory=static, check_dir=False))]
    for page in every:
        for route in page.routes:
            for prefix, api in (("", False), ("/api", True))[route.api_only :]:
                routes.append(WebRoute(prefix + route.path, frame.endpoint(page, route, api), methods=[route.method]))
    routes += entrance.streams(frame)
    routes += _description(frame, openapi(every))

    @asynccontextmanager
    async def life(app: Starlette) -> AsyncIterator[None]:
        house.uploads.clean()
        settle()
        worker.start()
        yield
        await run_in_threadpool(worker.stop)

    async def failed(request: Request, error: Exception) -> Response:
        return await run_in_threadpool(frame.failed, request, error, request.url.path.startswith("/api"))

    app = Starlette(routes=routes, exception_handlers={HTTPException: failed}, lifespan=life)
    return Guard(app, house)


def settle() -> None:
    """What the program itself is made of stays as long as the server: the collector of garbage does not look through
    it again and again, which would hold up a page now and then for a tenth of a second."""
    gc.collect()
    gc.freeze()


def _description(frame: Frame, described: dict[str, Any]) -> list[BaseRoute]:
    """What the API is: to read, and for programs."""

    async def for_programs(request: Request) -> Response:
        return JSONResponse(described)

    def to_read(ask: Ask) -> dict[str, Any]:
        return described

    shown = Route("GET", "/api", None, to_read, "api.html.j2")
    return [WebRoute("/api/openapi.json", for_programs), WebRoute("/api", frame.endpoint(entrance.page, shown, False))]


async def _body(request: Request) -> bytes:
    said = request.headers.get("content-length", "")
    if said.isdigit() and int(said) > MOST_BODY:
        raise too_large(MOST_BODY)
    parts, size = [], 0
    async for chunk in request.stream():
        size += len(chunk)
        if size > MOST_BODY:
            raise too_large(MOST_BODY)
        parts.append(chunk)
    return b"".join(parts)


def _given(request: Request, body: bytes) -> dict[str, Any]:
    """What a form or a JSON body gives, by field. A field that a form repeats is a list; `a.b` is b of a."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip()
    try:
        if kind == "application/json":
            given = json.loads(body or b"{}")
            if not isinstance(given, dict):
                raise ValueError
            return given
        fields = parse_qs(body.decode("utf-8"), keep_blank_values=True, max_num_fields=5000)
    except (ValueError, RecursionError) as error:
        raise Refusal(400, "body-unreadable", "The request cannot be read; JSON or a form would do.") from error
    if both := {name.partition(".")[0] for name in fields if "." in name} & set(fields):
        raise Refusal(400, "field-twice", "'{field}' is given as one value and in parts; one of these would do.",
                      field=min(both)[:80])  # fmt: skip
    out: dict[str, Any] = {}
    for name, values in fields.items():
        head, dot, rest = name.partition(".")
        if dot:
            out.setdefault(head, {})[rest] = values[-1]
        else:
            out[name] = values[0] if len(values) == 1 else values
    return out


def _went(request: Request, went: Went) -> Response:
    if request.headers.get("hx-request"):
        return Response(status_code=204, headers={"HX-Redirect": went.to})
    return RedirectResponse(went.to, 303)


def _sentence_of(request: Request, error: HTTPException) -> Sentence:
    if error.status_code == 404:
        return say("not-there", "There is no such page here.")
    if error.status_code == 405:
        takes = (error.headers or {}).get("Allow", "another method")
        if takes == "POST" and not request.url.path.startswith("/api"):
            text = "Nothing is shown at this address: a form is sent to it. Open the page on which that form stands."
            return say("method-wrong", text, takes=takes, given=request.method)
        return say("method-wrong", "This address takes {takes}, not {given}.", takes=takes, given=request.method)
    return say("refused", "{reason}", reason=_ended(error.detail))


def _path_of(request: Request) -> str:
    return request.url.path + (f"?{request.url.query}" if request.url.query else "")


def _field_of(error: EarwitnessError) -> dict[str, str]:
    """Which field of what was given is at fault, where the error says so."""
    if isinstance(error, InputError):
        return {"field": error.argument}
    return (
        {"field": str(error.sentence.args["where"])}
        if isinstance(error, UnitError) and "where" in error.sentence.args
        else {}
    )


def _begun(text: str) -> str:
    """As a sentence begins; a file's or a column's name keeps its letters."""
    return text[:1].upper() + text[1:] if re.match("[a-z]+ ", text) else text


def _ended(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else text + "."
