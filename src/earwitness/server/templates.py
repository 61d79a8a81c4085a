"""Pages from templates: every text escaped, an unknown name an error."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from jinja2 import ChoiceLoader, Environment, FileSystemLoader, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from earwitness import __version__
from earwitness.report.format import amounts, counted, likely, money, percent, when
from earwitness.report.html import whole
from earwitness.report.signs import SIGNS
from earwitness.sentence import Sentence
from earwitness.server.ask import Ask
from earwitness.server.page import Page

TAG = re.compile(r"\btag [^\s,]+")


def place(text: str) -> str:
    """Escaped, with the tag in it in one piece wherever there is room.

    >>> place("Mill floor, Sifter 2 <east>, tag T-302")
    Markup('Mill floor, Sifter 2 &lt;east&gt;, <span class="unbroken">tag T-302</span>')
    """
    return Markup(TAG.sub(r'<span class="unbroken">\g<0></span>', str(escape(text))))


class Templates:
    def __init__(self, folders: Sequence[Path], pages: Sequence[Page]) -> None:
        self.environment = Environment(
            loader=ChoiceLoader([FileSystemLoader([*folders]), PackageLoader("earwitness.server", "templates")]),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
            auto_reload=False,
        )
        self.environment.filters |= {
            "whole": whole, "place": place, "when": when, "percent": percent, "likely": likely, "counted": counted,
            "money": money, "amounts": amounts,
        }  # fmt: skip
        self.environment.globals |= {
            "signs": {word: Markup(svg.replace("<svg ", '<svg aria-hidden="true" ')) for word, svg in SIGNS.items()},
            "version": __version__,
            "line": sorted((p for p in pages if p.order is not None), key=lambda p: p.order or 0),
        }

    def render(self, template: str, page: Page, ask: Ask, data: Any) -> str:
        return self.environment.get_template(template).render(page=page, ask=ask, it=data)

    def failed(self, ask: Ask | None, status: int, sentence: Sentence, to: str = "") -> str:
        """`to` is the page that would do, where there is one."""
        template = self.environment.get_template("failed.html.j2")
        return template.render(page=None, ask=ask, status=status, sentence=sentence, to=to)
