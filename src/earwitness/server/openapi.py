"""The description of the API, made from the pages' own dataclasses, so that it cannot say anything else."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from earwitness import __version__
from earwitness.server.page import Page, Route
from earwitness.server.shape import schema_of

ERROR = {
    "description": "what was wrong and what would do",
    "content": {"application/json": {"schema": {"$ref": "#/components/schemas/Error"}}},
}


def openapi(pages: Sequence[Page]) -> dict[str, Any]:
    parts: dict[str, Any] = {
        "Error": {
            "type": "object",
            "required": ["error"],
            "properties": {
                "error": {
                    "type": "object",
                    "required": ["code", "args", "text"],
                    "properties": {"code": {"type": "string"}, "args": {"type": "object"}, "text": {"type": "string"}},
                }
            },
        }
    }
    paths: dict[str, Any] = {}
    for page in pages:
        for route in page.routes:
            paths.setdefault("/api" + route.path, {})[route.method.lower()] = _operation(page, route, parts)
    paths["/api/upload/{id}/file"] = {"put": _file_operation()}
    return {
        "openapi": "3.1.0",
        "info": {"title": "Earwitness", "version": __version__, "description": "Each page's data as JSON."},
        "paths": dict(sorted(paths.items())),
        "components": {"schemas": dict(sorted(parts.items()))},
    }


def _operation(page: Page, route: Route, parts: dict[str, Any]) -> dict[str, Any]:
    doc = " ".join((route.answer.__doc__ or "").split())
    told: dict[str, Any] = {
        "operationId": f"{page.name}-{route.answer.__name__}".replace("_", "-"),
        "summary": doc.partition(". ")[0].rstrip("."),
        "tags": [page.name],
        "parameters": [
            {"name": name, "in": "path", "required": True, "schema": {"type": "string"}}
            for name in re.findall(r"{(\w+)}", route.path)
        ],
        "responses": {"default": ERROR},
    }
    if route.role:
        told["description"] = f"Needs the role “{route.role}”."
    if route.takes is not None:
        told["requestBody"] = {"content": {"application/json": {"schema": schema_of(route.takes, parts)}}}
    content = {} if route.raw else {"application/json": {"schema": schema_of(route.gives, parts)}}
    told["responses"]["200"] = {"description": "the answer", **({"content": content} if content else {})}
    return told


def _file_operation() -> dict[str, Any]:
    return {
        "operationId": "upload-file",
        "summary": "Put one file into an upload; the body is the file",
        "tags": ["upload"],
        "parameters": [
            {"name": "id", "in": "path", "required": True, "schema": {"type": "string"}},
            {"name": "path", "in": "query", "required": True, "schema": {"type": "string"}},
        ],
        "requestBody": {"content": {"application/octet-stream": {}}},
        "responses": {"200": {"description": "what lies there now"}, "default": ERROR},
    }
