"""The ways in: signing in and out, one's name on this machine, files coming up, and how far a job is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route as WebRoute

from earwitness.server import jobs
from earwitness.server.ask import Ask, Went
from earwitness.server.page import Page
from earwitness.server.refusal import Refusal
from earwitness.server.shape import as_plain
from earwitness.server.uploads import UploadState
from earwitness.server.users import IDLE

if TYPE_CHECKING:
    from earwitness.server.app import Frame

page = Page("entrance", title="Sign in")
YOUR_NAME = "earwitness_name"  # on this machine, how somebody wants to be called
JUDGE = "judge-upload"  # the job that an upload ends in; a page defines what it does
YEAR_S = 31_536_000


def cookie_name(scheme: str) -> str:
    """With TLS the name itself binds the cookie to this host and to secure connections."""
    return "__Host-earwitness" if scheme == "https" else "earwitness"


@dataclass(frozen=True)
class SignIn:
    to: str
    name: str
    needed: bool


@dataclass(frozen=True)
class Credentials:
    name: str
    password: str
    to: str = "/"


@dataclass(frozen=True)
class Named:
    name: str
    to: str = "/"


@dataclass(frozen=True)
class NewPassword:
    old: str
    new: str


@page.view("/sign-in", template="sign_in.html.j2", role=None)
def sign_in(ask: Ask) -> SignIn:
    """Who is signed in, and whether that is needed."""
    return SignIn(inside(ask.query.get("to", "/")), ask.who.name, ask.house.accounts)


@page.deed("/sign-in", role=None)
def signed_in(ask: Ask, given: Credentials) -> Response:
    """Sign in; the session is a cookie that scripts cannot read."""
    if not ask.house.accounts:
        raise Refusal(409, "no-accounts", "On this machine nobody signs in.")
    token = ask.house.gate.sign_in(given.name, given.password)
    response = RedirectResponse(inside(given.to), 303)
    secure = ask.scheme == "https"
    response.set_cookie(
        cookie_name(ask.scheme), token, max_age=int(IDLE.total_seconds()), path="/",
        httponly=True, secure=secure, samesite="lax",
    )  # fmt: skip
    return response


@page.deed("/sign-out", role=None)
def signed_out(ask: Ask) -> Response:
    """End the session."""
    name = cookie_name(ask.scheme)
    ask.house.gate.sign_out(ask.cookies.get(name))
    response = RedirectResponse("/sign-in", 303)
    response.delete_cookie(name, path="/", secure=ask.scheme == "https", httponly=True, samesite="lax")
    return response


@page.view("/you", template="you.html.j2", role=None)
def you(ask: Ask) -> SignIn:
    """Under which name this machine's deeds are written down."""
    return SignIn("/", ask.who.name, ask.house.accounts)


@page.deed("/you", role=None)
def called(ask: Ask, given: Named) -> Response:
    """Set that name."""
    if ask.house.accounts:
        raise Refusal(409, "has-account", "Who signs in is called by the name of the account.")
    name = " ".join(given.name.split())[:80]
    if not name or not name.isprintable():
        raise Refusal(422, "name-needed", "A name of 1 to 80 characters is needed.")
    response = RedirectResponse(inside(given.to), 303)
    response.set_cookie(YOUR_NAME, quote(name), max_age=YEAR_S, path="/", httponly=True, samesite="lax")
    return response


@page.deed("/you/password", role=None)
def new_password(ask: Ask, given: NewPassword) -> Went:
    """Change one's own password; other sessions of the account end."""
    if not ask.house.accounts:
        raise Refusal(409, "no-accounts", "On this machine nobody signs in.")
    if not ask.who.name:
        raise Refusal(401, "sign-in-needed", "Sign in first.")
    ask.house.gate.change_password(ask.who.name, given.old, given.new, ask.cookies[cookie_name(ask.scheme)])
    return Went("/you", text="The new password holds. Other sessions of yours have ended.")


@page.deed("/upload", role="inspect")
def begin_upload(ask: Ask) -> UploadState:
    """Begin an upload; files are put into it one by one."""
    may_bring(ask)
    return ask.house.uploads.begin(ask.who.name)


@page.data("/upload/{id}", role="inspect")
def upload(ask: Ask) -> UploadState:
    """What lies on the server's disk, with each file's hash."""
    return ask.house.uploads.state(ask.id(what="upload"), ask.who.name)


@page.deed("/upload/{id}/judge", role="inspect")
def judge_upload(ask: Ask) -> UploadState:
    """The upload is complete: file it and judge it in the background."""
    may_bring(ask)
    of = ask.id(what="upload")
    ask.house.uploads.close(of, ask.who.name, JUDGE, may_file_at(ask))
    ask.house.wake()
    return ask.house.uploads.state(of, ask.who.name)


@page.data("/job/{id}", role="look")
def job(ask: Ask) -> jobs.JobState:
    """How far a job is."""
    found = jobs.state_of(ask.ledger, ask.id(what="job"))
    if found.who != ask.who.name and not ask.who.may("administer", None):
        raise Refusal(404, "not-there", "There is no such {what} here.", what="job")
    return found


def streams(frame: Frame) -> list[Any]:
    """Answers that read their request piece by piece."""

    async def put_file(request: Request) -> Response:
        try:
            ask: Ask = await run_in_threadpool(frame.ask_of, request)
            if not ask.who.name:
                raise Refusal(401, "sign-in-needed", "Sign in first.")
            may_bring(ask)
            said = request.headers.get("content-length")
            path = request.query_params.get("path", "")
            found = await ask.house.uploads.put(ask.id(what="upload"), ask.who.name, path, request.stream(), said)
            return JSONResponse(as_plain(replace(found, files=found.files[-1:]) if len(found.files) > 50 else found))
        except Exception as error:
            return await run_in_threadpool(frame.failed, request, error, True)

    return [WebRoute("/api/upload/{id}/file", put_file, methods=["PUT"])]


def may_bring(ask: Ask) -> None:
    """Somebody who inspects at one site at least; at which one, the filing checks."""
    if not any(ask.who.may("inspect", site) for site in (None, *(s.id for s in ask.sites))):
        raise Refusal(403, "role-missing", "This needs the role “{role}”.", role="inspect")


def may_file_at(ask: Ask) -> list[str]:
    """The sites where whoever asks may file a survey, or "all"."""
    if ask.who.may("inspect", None):
        return ["all"]
    return [str(site.id) for site in ask.sites if ask.who.may("inspect", site.id)]


def inside(to: str) -> str:
    """An address of this server and no other."""
    return to if to.startswith("/") and not to.startswith(("//", "/\\")) and to.isprintable() else "/"
