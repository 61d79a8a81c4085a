"""The report as one HTML file: no network, no script, pictures and sound inside."""

from __future__ import annotations

import base64
import re

from earwitness.report.model import Image, Report, Sound
from earwitness.report.signs import SIGNS

INTERVAL = re.compile(r"\([\d\u00a0.]+–[\d\u00a0.]+\)")


def data_uri(thing: Image | Sound) -> str:
    return f"data:{thing.mime};base64,{base64.b64encode(thing.data).decode('ascii')}"


def whole(text: str) -> str:
    """Escaped, with each interval in brackets kept on one line."""
    from markupsafe import Markup, escape

    return Markup(INTERVAL.sub(r'<span class="nb">\g<0></span>', str(escape(text))))


def html(report: Report) -> str:
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=PackageLoader("earwitness.report", "pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {"data_uri": data_uri, "whole": whole}
    signs = {word: Markup(svg.replace("<svg ", '<svg aria-hidden="true" ')) for word, svg in SIGNS.items()}
    css = Markup(environment.loader.get_source(environment, "report.css")[0])  # type: ignore[union-attr]
    return environment.get_template("report.html.j2").render(report=report, signs=signs, css=css)
