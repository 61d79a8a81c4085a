"""The first page: the site last used, the list of sites, or, in an empty ledger, the place to drop the first survey."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from starlette.responses import RedirectResponse, Response

from earwitness.server import Ask, Page, jobs
from earwitness.server.ask import SiteHere
from earwitness.server.entrance import JUDGE
from earwitness.server.not_judged import NotJudged, not_judged

page = Page("start", title="Start")


@dataclass(frozen=True)
class Start:
    sites: Sequence[SiteHere]
    may_drop: bool
    job: jobs.JobState | None
    not_judged: Sequence[NotJudged]


@page.view("/sites", role="look")
def start(ask: Ask) -> Start:
    """The sites that one may see."""
    may = any(ask.who.may("inspect", s) for s in (None, *(x.id for x in ask.sites)))
    job = jobs.asked_for(ask.ledger, ask.query.get("job"))
    return Start(ask.sites, may, job, not_judged(ask, (JUDGE,)) if may else ())


@page.raw("/", role="look")
def home(ask: Ask) -> Response:
    """To the site, where there is only one."""
    return RedirectResponse(f"{ask.sites[0].path}/today" if len(ask.sites) == 1 else "/sites", 303)
