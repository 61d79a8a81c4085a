"""The server's own certificate: made once, trusted by who has its authority, renewed with its names."""

from __future__ import annotations

import socket
import ssl
import threading
import time

import pytest
import uvicorn

from earwitness.server import House
from earwitness.server.app import make_app
from earwitness.server.certificate import certificate_for


@pytest.fixture
def made(tmp_path):
    return certificate_for(tmp_path / "tls", "desk.plant")


def test_keys_are_for_the_owner_alone(made):
    assert made.key.stat().st_mode & 0o077 == 0
    assert made.authority.with_suffix(".key").stat().st_mode & 0o077 == 0


def test_it_is_made_once_and_renewed_for_a_new_name(made, tmp_path):
    again = certificate_for(tmp_path / "tls", "desk.plant")
    assert again.fingerprint == made.fingerprint
    chain = again.chain.read_bytes()
    other = certificate_for(tmp_path / "tls", "other.plant")
    assert other.fingerprint == made.fingerprint  # devices that trust the authority go on trusting it
    assert other.chain.read_bytes() != chain


def test_a_client_with_the_authority_trusts_it_and_no_other_does(made, ledger, tmp_path):
    app = make_app(House(ledger, accounts=True), [], templates=[], static=tmp_path)
    listening = socket.create_server(("127.0.0.1", 0))
    port = listening.getsockname()[1]
    server = uvicorn.Server(
        uvicorn.Config(app, ssl_certfile=str(made.chain), ssl_keyfile=str(made.key), log_level="critical")
    )
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    try:
        trusting = ssl.create_default_context(cafile=str(made.authority))
        with (
            socket.create_connection(("127.0.0.1", port)) as plain,
            trusting.wrap_socket(plain, server_hostname="localhost") as safe,
        ):
            safe.sendall(b"GET /sign-in HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
            answer = b"".join(iter(lambda: safe.recv(65536), b""))
        assert answer.startswith(b"HTTP/1.1 200")
        assert b"strict-transport-security" in answer.lower()
        with pytest.raises(ssl.SSLCertVerificationError), socket.create_connection(("127.0.0.1", port)) as plain:
            ssl.create_default_context().wrap_socket(plain, server_hostname="localhost")
    finally:
        server.should_exit = True
        thread.join(10)
