"""Each attack is tried: foreign pages, foreign names, foreign sites, guessed passwords, stolen and ended sessions."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import select, update

from earwitness.errors import EarwitnessError
from earwitness.server import House
from earwitness.server import users as accounts
from earwitness.server.run import is_loopback, serve
from earwitness.server.tables import session, user

from .conftest import tag

FORM = {"Content-Type": "application/x-www-form-urlencoded"}
HERE = {"Origin": "https://desk.plant"}
SENTENCE = "a sentence would do"


@pytest.fixture
def house(ledger):
    return House(ledger, accounts=True)


@pytest.fixture
def signed_in(house, client_of):
    def make(name="Linde", roles=None):
        accounts.add_user(house.ledger, name, SENTENCE, roles or {None: "administer"})
        client = client_of(house, "https://desk.plant")
        answer = client.post("/sign-in", data={"name": name, "password": SENTENCE, "to": "/sites"}, headers=HERE)
        assert answer.status_code == 303, answer.text
        return client, answer

    return make


# --- pages of others -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "origin",
    ["http://evil.example", "null", "https://localhost", "http://localhost:1", "http://localhost.evil.example"],
)
def test_a_foreign_page_can_do_nothing(ledger, site, client_of, origin):
    path = f"/site/{tag(site('Mill'))}/probe/set"
    client = client_of(House(ledger))
    for headers in ({**FORM}, {"Content-Type": "application/json"}, {"Content-Type": "text/plain"}):
        answer = client.post(path, content="number=1", headers={**headers, "Origin": origin})
        assert answer.status_code == 403


def test_a_form_without_an_origin_is_refused(ledger, site, client_of):
    path = f"/site/{tag(site('Mill'))}/probe/set"
    client = client_of(House(ledger))
    assert client.post(path, content="number=1", headers=FORM).status_code == 403
    assert client.post(path, content='{"number": 1}', headers={"Content-Type": "text/plain"}).status_code == 403
    cross = {"Content-Type": "application/json", "Sec-Fetch-Site": "cross-site"}
    assert client.post(path, content='{"number": 1}', headers=cross).status_code == 403


def test_no_foreign_page_is_given_leave_to_read(ledger, client_of):
    client = client_of(House(ledger))
    answer = client.options(
        "/api/upload", headers={"Origin": "http://evil.example", "Access-Control-Request-Method": "POST"}
    )
    assert "access-control-allow-origin" not in answer.headers
    answer = client.get("/api/openapi.json", headers={"Origin": "http://evil.example"})
    assert "access-control-allow-origin" not in answer.headers


@pytest.mark.parametrize("host", ["evil.example", "localhost.evil.example", "169.254.169.254", "", "127.0.0.1.nip.io"])
def test_a_foreign_name_that_leads_here_reads_nothing(ledger, site, client_of, host):
    site("Mill")
    client = client_of(House(ledger))
    for path in ("/sites", "/api/sites", "/api/job/7"):
        answer = client.get(path, headers={"Host": host})
        assert answer.status_code == 421
        assert "Mill" not in answer.text


def test_another_port_is_another_server(ledger, client_of):
    client = client_of(House(ledger, port=8765), "http://localhost:8765")
    assert client.get("/api/sign-in").status_code == 200
    assert client.get("/api/sign-in", headers={"Host": "localhost:9999"}).status_code == 421


def test_every_answer_carries_the_locks(ledger, site, client_of):
    path = f"/site/{tag(site('Mill'))}/probe"
    client = client_of(House(ledger))
    for where in (path, "/nowhere", "/api/nowhere", "/breaks", "/static/nothing.js", "/api/openapi.json", "/you"):
        headers = client.get(where).headers
        policy = headers["content-security-policy"]
        assert "unsafe" not in policy
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert headers["x-content-type-options"] == "nosniff"


def test_no_page_has_script_or_style_inside(ledger, site, client_of):
    path = f"/site/{tag(site('Mill'))}/probe"
    client = client_of(House(ledger))
    for where in (path, "/you", "/sign-in", "/nowhere"):
        text = client.get(where, headers={"Accept": "text/html"}).text
        assert "<script>" not in text
        assert "<style" not in text
        assert " style=" not in text
        assert " onclick=" not in text


def test_names_are_shown_as_text(ledger, site, client_of):
    made = site("<script>alert(1)</script>")
    text = client_of(House(ledger)).get(f"/site/{tag(made)}/probe").text
    assert "<script>alert" not in text
    assert "&lt;script&gt;alert" in text


# --- accounts ---------------------------------------------------------------------------------------------------------


def test_nothing_is_shown_before_signing_in(house, site, client_of):
    made = site("Mill")
    client = client_of(house, "https://desk.plant")
    for path in (f"/api/site/{tag(made)}/probe", "/api/upload/x", "/api/job/x", "/api/breaks"):
        answer = client.get(path)
        assert answer.status_code in (401, 404)
        assert "Mill" not in answer.text
    assert client.post("/api/upload", json={}).status_code == 401
    assert client.put("/api/upload/x/file?path=a", content=b"x", headers=HERE).status_code == 401


def test_signing_in_sets_a_cookie_that_scripts_and_others_do_not_get(signed_in):
    _, answer = signed_in()
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith("__Host-earwitness=")
    for part in ("HttpOnly", "Secure", "SameSite=lax", "Path=/"):
        assert part in cookie


def test_the_password_and_the_session_are_not_kept_readable(signed_in, house):
    client, _ = signed_in()
    token = client.cookies["__Host-earwitness"]
    with house.ledger.reading() as connection:
        kept = connection.execute(select(user.c.password)).scalar_one()
        held = connection.execute(select(session.c.token_sha256)).scalar_one()
    assert kept.startswith("$argon2id$")
    assert SENTENCE not in kept
    assert held != token


@pytest.mark.parametrize(
    "to", ["//evil.example", "https://evil.example", "/\\evil.example", "javascript:alert(1)", "/a\r\nSet-Cookie: x=1"]
)
def test_signing_in_leads_nowhere_else(house, client_of, to):
    accounts.add_user(house.ledger, "Linde", SENTENCE, {None: "look"})
    client = client_of(house, "https://desk.plant")
    answer = client.post("/sign-in", data={"name": "Linde", "password": SENTENCE, "to": to}, headers=HERE)
    assert (answer.status_code, answer.headers["location"]) == (303, "/")


def test_guessing_has_to_wait(house, client_of):
    accounts.add_user(house.ledger, "Linde", SENTENCE, {None: "look"})
    client = client_of(house, "https://desk.plant")
    answers = [
        client.post("/sign-in", data={"name": "Linde", "password": f"guess number {n}"}, headers=HERE).status_code
        for n in range(7)
    ]
    assert answers == [401] * 5 + [429] * 2
    right = client.post("/sign-in", data={"name": "Linde", "password": SENTENCE}, headers=HERE)
    assert right.status_code == 429


def test_a_name_that_is_not_there_is_answered_alike(house, client_of):
    accounts.add_user(house.ledger, "Linde", SENTENCE, {None: "look"})
    client = client_of(house, "https://desk.plant")
    there, not_there = (
        client.post("/api/sign-in", json={"name": name, "password": "wrong one here"}).json()
        for name in ("Linde", "Ode")
    )
    assert there == not_there


@pytest.mark.parametrize("column", ["seen_at", "made_at"])
def test_an_old_session_has_ended(signed_in, house, column):
    client, _ = signed_in()
    assert client.get("/api/breaks").status_code == 500
    past = datetime.now(UTC) - timedelta(days=8)
    with house.ledger.writing() as connection:
        connection.execute(update(session).values({column: past}))
    assert client.get("/api/breaks").status_code == 401


def test_signing_out_and_a_new_password_end_the_session(signed_in, house):
    client, _ = signed_in()
    stolen = client.cookies["__Host-earwitness"]
    assert client.post("/sign-out", headers={**FORM, **HERE}).status_code == 303
    assert house.gate.who(stolen) is None
    token = house.gate.sign_in("Linde", SENTENCE)
    accounts.change_user(house.ledger, accounts.users(house.ledger)[0].id, password="another sentence entirely")
    assert house.gate.who(token) is None


def test_ones_own_password_is_changed_with_the_old_one_and_other_sessions_end(signed_in, house):
    client, _ = signed_in()
    elsewhere = house.gate.sign_in("Linde", SENTENCE)
    wrong = client.post("/api/you/password", json={"old": "a guess of some length", "new": "another sentence"})
    assert (wrong.status_code, wrong.json()["error"]["args"]["field"]) == (422, "old")
    assert client.post("/api/you/password", json={"old": SENTENCE, "new": "short"}).status_code == 422
    assert house.gate.who(elsewhere) is not None
    assert client.post("/api/you/password", json={"old": SENTENCE, "new": "another sentence"}).status_code == 200
    assert house.gate.who(elsewhere) is None
    assert client.get("/api/you").json()["name"] == "Linde"
    assert house.gate.sign_in("Linde", "another sentence")


def test_nobody_changes_a_password_without_signing_in(house, client_of):
    client = client_of(house, "https://desk.plant")
    assert client.post("/api/you/password", json={"old": SENTENCE, "new": SENTENCE}).status_code == 401


def test_guessing_the_old_password_has_to_wait(signed_in):
    client, _ = signed_in()
    guess = {"old": "a guess of some length", "new": "another sentence"}
    assert [client.post("/api/you/password", json=guess).status_code for _ in range(6)] == [422] * 5 + [429]


def test_short_passwords_are_refused(house):
    with pytest.raises(EarwitnessError, match="10 to 1024"):
        accounts.add_user(house.ledger, "Linde", "short", {None: "look"})


@pytest.mark.parametrize(("role", "status"), [("look", 403), ("inspect", 403), ("plan", 200), ("administer", 200)])
def test_a_role_may_what_it_may(signed_in, site, role, status):
    made = site("Mill")
    client, _ = signed_in(roles={made: role})
    assert client.get(f"/api/site/{tag(made)}/probe").status_code == 200
    assert client.post(f"/api/site/{tag(made)}/probe/set", json={"number": 1}).status_code == status


def test_a_site_of_others_is_not_there(signed_in, site):
    mine, others = site("Mill"), site("Works")
    client, _ = signed_in(roles={mine: "administer"})
    assert client.get(f"/api/site/{tag(others)}/probe").status_code == 404
    assert client.post(f"/api/site/{tag(others)}/probe/set", json={"number": 1}).status_code == 404


def test_who_only_looks_brings_nothing(signed_in, site):
    client, _ = signed_in(roles={site("Mill"): "look"})
    assert client.post("/api/upload", json={}).status_code == 403


# --- where it answers -------------------------------------------------------------------------------------------------


def test_loopback_is_known_by_its_address():
    assert all(map(is_loopback, ("127.0.0.1", "::1", "localhost", "127.8.9.1")))
    assert not any(map(is_loopback, ("0.0.0.0", "192.168.1.4", "::", "desk.plant", "127.0.0.1.evil.example")))


def test_another_address_insists_on_accounts(ledger, tmp_path):
    (tmp_path / "static").mkdir()
    (tmp_path / "static" / "built").touch()
    with pytest.raises(EarwitnessError, match="earwitness user add"):
        serve(ledger, [], templates=[], static=tmp_path / "static", host="0.0.0.0")
