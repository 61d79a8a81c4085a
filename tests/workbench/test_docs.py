"""The documents name addresses and pages that there are."""

from __future__ import annotations

import re
from pathlib import Path

from earwitness.server import entrance, not_judged
from earwitness.server.openapi import openapi
from earwitness.workbench import all_pages

DOCS = Path(__file__).parents[2] / "docs"


def test_every_address_in_the_document_is_answered():
    text = (DOCS / "workbench.md").read_text("utf-8")
    named = re.findall(r"`(GET|POST|PUT) (/[\w/{}-]+)", text)
    assert len(named) > 15
    there = openapi([*all_pages(), entrance.page, not_judged.page])["paths"]
    missing = [f"{m} {p}" for m, p in named if m.lower() not in there.get("/api" + p, {})]
    assert not missing


def test_every_deed_and_view_says_what_it_does():
    for page in all_pages():
        for route in page.routes:
            assert (route.answer.__doc__ or "").strip(), f"{page.name}: {route.path}"


def test_every_kind_of_data_is_described():
    described = openapi([*all_pages(), entrance.page, not_judged.page])
    for path, methods in described["paths"].items():
        for method, told in methods.items():
            assert told["summary"], (method, path)
