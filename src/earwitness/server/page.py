"""A page, declared once: its addresses, the role each needs, the dataclass it shows and the template that shows it.

page = Page("today", title="Today", order=10)

@page.view("/site/{site}/today")
def today(ask: Ask) -> Today: ...                      # GET, and GET /api/site/{site}/today

@page.deed("/site/{site}/today/tell", role="inspect")
def tell(ask: Ask, given: Told) -> Went: ...           # POST, and POST /api/...; `given` is read from form or JSON
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, TypeVar, get_type_hints

Role = Literal["look", "inspect", "plan", "administer"]
ROLES: tuple[Role, ...] = ("look", "inspect", "plan", "administer")  # each may do what those before it may
Answer = TypeVar("Answer", bound=Callable[..., Any])
Keep = Callable[[Answer], Answer]
Progress = Callable[[int, int], None]
Job = Callable[[Any, Mapping[str, Any], Progress], Mapping[str, Any]]  # (house, what was asked, progress) -> what came


@dataclass(frozen=True)
class Route:
    method: Literal["GET", "POST"]
    path: str
    role: Role | None  # None: whoever asks, also without an account (sign-in)
    answer: Callable[..., Any]
    template: str | None = None
    takes: type[Any] | None = None
    gives: Any = None
    raw: bool = False
    api_only: bool = False


@dataclass
class Page:
    """`order` places it in the line of pages; None keeps it out of that line. `home` is where its word leads."""

    name: str
    title: str = ""
    order: int | None = None
    home: str = ""
    under: str = ""  # the page of the line that it belongs to, where it is not in the line itself
    routes: list[Route] = field(default_factory=list)
    jobs: dict[str, Job] = field(default_factory=dict)

    @property
    def role(self) -> Role | None:
        """What the page that its word leads to needs."""
        home = f"/site/{{site}}/{self.home or self.name}"
        return next((r.role for r in self.routes if r.method == "GET" and r.path == home), "look")

    def view(self, path: str, *, template: str | None = None, role: Role | None = "look") -> Keep:
        return self._route("GET", path, role, template or f"{self.name}.html.j2")

    def deed(self, path: str, *, role: Role | None, template: str | None = None) -> Keep:
        return self._route("POST", path, role, template)

    def raw(self, path: str, *, role: Role | None = "look") -> Keep:
        """GET of bytes: the function gives a Starlette response. Answered at the address and below /api alike."""
        return self._route("GET", path, role, None, raw=True)

    def data(self, path: str, *, role: Role | None = "look") -> Keep:
        """GET of a dataclass that no page shows by itself: answered below /api alone."""
        return self._route("GET", path, role, None, api_only=True)

    def job(self, kind: str) -> Callable[[Job], Job]:
        """Work that runs in the background and may run again from its start if the server was killed."""

        def keep(work: Job) -> Job:
            self.jobs[kind] = work
            return work

        return keep

    def _route(
        self, method: Any, path: str, role: Role | None, template: str | None, raw: bool = False, api_only: bool = False
    ) -> Any:
        def keep(answer: Callable[..., Any]) -> Callable[..., Any]:
            hints = get_type_hints(answer)
            gives = hints.pop("return", None)
            hints.pop("ask", None)
            takes = next(iter(hints.values()), None)
            self.routes.append(Route(method, path, role, answer, template, takes, gives, raw, api_only))
            return answer

        return keep
