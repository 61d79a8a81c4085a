"""The web application's frame: sign-in, sessions, TLS, uploads, jobs, errors and the headers that keep a browser safe.

A page is declared once (`Page`), as functions from what is asked (`Ask`) to a dataclass. The frame gives that dataclass
to a template where a browser asks, and as JSON below `/api`; both are guarded by the same role.

- `make_app(house, pages, ...)`; `House` is what all pages share: the ledger, uploads, jobs, who may come in.
- `Page.view` (GET), `Page.deed` (POST), `Page.raw` (bytes: pictures, sound, files), `Page.job` (in the background).
"""

from earwitness.server.ask import Ask, Went
from earwitness.server.house import House
from earwitness.server.page import Page
from earwitness.server.refusal import Refusal

__all__ = ["Ask", "House", "Page", "Refusal", "Went"]
