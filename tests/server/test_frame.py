"""A page's data is the same to read and as JSON; every error has one shape; the API describes itself."""

from __future__ import annotations

import pytest

from earwitness.server import House
from earwitness.server.refusal import Refusal
from earwitness.server.shape import read_shape

from .conftest import Given, tag

JSON = {"Content-Type": "application/json"}


@pytest.fixture
def at(ledger, site, client_of):
    made = site("Mill")
    return client_of(House(ledger)), f"/site/{tag(made)}"


def test_a_page_and_its_json_are_one(at):
    client, path = at
    page = client.get(path + "/probe")
    assert page.status_code == 200
    assert "<h1>Mill</h1>" in page.text
    data = client.get("/api" + path + "/probe").json()
    assert data["site"] == "Mill"
    assert data["number"] is None  # never NaN
    assert data["days"] == ["2026-11-20"]


def test_a_deed_leads_on_and_answers_in_json(at):
    client, path = at
    form = client.post(path + "/probe/set", data={"number": "1,5"}, headers={"Origin": "http://localhost"})
    assert (form.status_code, form.headers["location"]) == (303, path + "/probe")
    told = client.post("/api" + path + "/probe/set", json={"number": 2, "note": "a"}).json()
    assert told["text"] == "2.0 a"


@pytest.mark.parametrize(
    ("given", "code"),
    [({}, "field-missing"), ({"number": "many"}, "field-wrong"), ({"number": True}, "field-wrong"),
     ({"number": "nan"}, "field-wrong"), ({"number": 1, "note": 7}, "field-wrong"),
     ({"number": 1, "note": "a\x00b"}, "field-wrong")],
)  # fmt: skip
def test_what_cannot_be_read_is_named(at, given, code):
    client, path = at
    answer = client.post("/api" + path + "/probe/set", json=given)
    assert answer.status_code == 422
    error = answer.json()["error"]
    assert error["code"] == code
    assert set(error) == {"code", "args", "text"}


def test_read_shape_refuses_by_name():
    with pytest.raises(Refusal, match="'number' is needed"):
        read_shape(Given, {})


@pytest.mark.parametrize("body", [b"{", b"[1]", b"\xff\xfe", b"[" * 100_000])
def test_a_broken_body_is_one_plain_error(at, body):
    client, path = at
    answer = client.post("/api" + path + "/probe/set", content=body, headers=JSON)
    assert answer.status_code == 400
    assert answer.json()["error"]["code"] == "body-unreadable"


@pytest.mark.parametrize("body", ["cells=1&cells.x=2", "cells.x=2&cells=1"])
def test_a_field_given_whole_and_in_parts_is_refused_in_words(at, body):
    client, path = at
    form = {"Content-Type": "application/x-www-form-urlencoded", "Origin": "http://localhost"}
    answer = client.post("/api" + path + "/probe/set", content=body, headers=form)
    assert answer.status_code == 400
    assert answer.json()["error"]["text"].startswith("'cells' is given as one value and in parts")


@pytest.mark.parametrize("path", ["/api/nowhere", "/api/site/XXXX-XXXX/probe", "/api/upload/7", "/api/job/7"])
def test_what_is_not_there_has_the_same_shape(at, path):
    client, _ = at
    answer = client.get(path)
    assert answer.status_code == 404
    assert answer.json()["error"]["code"] == "not-there"


def test_a_fault_of_the_program_tells_nothing_of_its_inside(at):
    client, _ = at
    for answer in (client.get("/breaks"), client.get("/api/breaks")):
        assert answer.status_code == 500
        assert "ZeroDivision" not in answer.text
        assert "Traceback" not in answer.text


def test_the_api_describes_every_address(at):
    client, _ = at
    described = client.get("/api/openapi.json").json()
    assert described["openapi"] == "3.1.0"
    operation = described["paths"]["/api/site/{site}/probe"]["get"]
    assert operation["responses"]["200"]["content"]["application/json"]["schema"] == {
        "$ref": "#/components/schemas/Shown"
    }
    shown = described["components"]["schemas"]["Shown"]["properties"]
    assert shown["days"] == {"type": "array", "items": {"type": "string", "format": "date"}}
    assert "put" in described["paths"]["/api/upload/{id}/file"]
