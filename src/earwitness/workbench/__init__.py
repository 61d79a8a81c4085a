"""The desk's pages, on the server's frame. A page is a file in `pages/`; docs/workbench.md says what each is for."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

from earwitness.server import Page

HERE = Path(__file__).parent
TEMPLATES, STATIC = HERE / "templates", HERE / "static"


def all_pages() -> list[Page]:
    """Every page there is: each module of `pages` that has a `page`."""
    found = [import_module(f"{__name__}.pages.{m.name}") for m in iter_modules([str(HERE / "pages")])]
    return [module.page for module in found if hasattr(module, "page")]
