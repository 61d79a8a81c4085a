"""`earwitness serve` and `earwitness user` as somebody calls them."""

from __future__ import annotations

import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

from earwitness.server import House
from earwitness.server.users import Gate, users

COMMAND = [str(Path(sys.executable).with_name("earwitness"))]
SENTENCE = "a sentence would do"


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([*COMMAND, *words], capture_output=True, text=True, timeout=120)


def test_accounts_are_made_listed_and_ended(ledger, tmp_path):
    where = str(tmp_path / "site.ledger")
    made = run("user", "add", "M. Linde", "--role", "administer", "--password", SENTENCE, "--ledger", where)
    assert made.returncode == 0, made.stderr
    assert Gate(ledger).sign_in("M. Linde", SENTENCE)
    assert "M. Linde: administer at every site\n" in run("user", "list", "--ledger", where).stdout
    wrong = run("user", "add", "K", "--role", "look", "--site", "Nowhere", "--password", SENTENCE, "--ledger", where)
    assert (wrong.returncode, wrong.stderr.count("\n")) == (2, 1)
    assert run("user", "remove", "M. Linde", "--ledger", where).returncode == 0
    assert users(House(ledger).ledger) == []


def test_an_account_is_changed_and_its_role_is_told_with_its_site(ledger, site, tmp_path):
    at = ("--ledger", str(tmp_path / "site.ledger"))
    site("Oat works")
    site("Mill")
    made = run("user", "add", "K", "--role", "inspect", "--site", "Mill", "--password", SENTENCE, *at)
    assert made.returncode == 0, made.stderr
    assert run("user", "list", *at).stdout == "K: inspect at Mill\n"
    again = run("user", "add", "K", "--role", "look", "--password", SENTENCE, *at)
    assert again.returncode == 2 and "user change" in again.stderr
    changed = run("user", "change", "K", "--role", "plan", "--site", "Mill", "--site", "Oat works", *at)
    assert changed.stdout == "K: plan at Mill, plan at Oat works\n"
    assert Gate(ledger).sign_in("K", SENTENCE)
    assert run("user", "change", "K", "--password", "quite another one", *at).returncode == 0
    assert Gate(ledger).sign_in("K", "quite another one")
    unknown = run("user", "change", "Nobody", "--role", "look", *at)
    assert (unknown.returncode, unknown.stderr.count("\n")) == (2, 1)


def test_another_address_without_accounts_is_refused_in_one_line(ledger, tmp_path):
    refused = run("serve", "--ledger", str(tmp_path / "site.ledger"), "--host", "0.0.0.0")
    assert refused.returncode == 2
    assert "earwitness user add" in refused.stderr
    assert "Traceback" not in refused.stderr


def test_it_answers_on_this_machine_alone(tmp_path):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = subprocess.Popen(
        [*COMMAND, "serve", "--ledger", str(tmp_path / "new.ledger"), "--port", str(port)],
        stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    try:
        end = time.monotonic() + 60
        while True:
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=5) as answer:
                    page = answer.read().decode()
                break
            except (urllib.error.URLError, ConnectionError):
                assert time.monotonic() < end
                time.sleep(0.1)
        assert "Nothing is filed in this ledger yet" in page
        mine = {info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)}
        for address in mine - {"127.0.0.1"}:
            with socket.socket() as other:
                other.settimeout(2)
                assert other.connect_ex((address, port)) != 0
    finally:
        server.terminate()
        told = server.communicate(timeout=30)[0]
    assert f"http://127.0.0.1:{port}/" in told
