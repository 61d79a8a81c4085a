"""Who may come in: names with passwords (Argon2id), their role per site, and the sessions that a browser holds."""

from __future__ import annotations

import hashlib
import secrets
import threading
import time
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import TYPE_CHECKING, Any

from sqlalchemy import delete, insert, select, update

from earwitness.errors import EarwitnessError
from earwitness.ledger.database import Ledger
from earwitness.server.ask import Who
from earwitness.server.page import ROLES, Role
from earwitness.server.refusal import Refusal
from earwitness.server.tables import role, session, user

if TYPE_CHECKING:
    from argon2 import PasswordHasher

SHORTEST = 10  # characters of a password; NIST SP 800-63B asks for 8 and no rules of composition
LONGEST = 1024
IDLE, WHOLE = timedelta(hours=12), timedelta(days=7)  # a session ends unused, and ends at last
FREE_TRIES, WAIT_S = 5, 30.0  # wrong passwords for one name before it must wait
SEEN_EVERY = timedelta(minutes=5)  # how exactly the last use is kept


@dataclass(frozen=True)
class User:
    id: uuid.UUID
    name: str
    roles: dict[uuid.UUID | None, Role]

    def where(self, sites: Mapping[uuid.UUID, str]) -> str:
        """In words what the account may, at those of these sites (names by id) where it may anything."""
        held = [(role, "every site" if site is None else sites[site])
                for site, role in self.roles.items() if site is None or site in sites]  # fmt: skip
        return ", ".join(f"{role} at {name}" for role, name in sorted(held))


@cache
def _hasher() -> PasswordHasher:
    from argon2 import PasswordHasher

    return PasswordHasher()  # the library's defaults are RFC 9106's second recommendation


@cache
def _nobodys() -> str:
    """A hash to try where there is no such name, so that the answer takes as long."""
    return _hasher().hash(secrets.token_hex(16))


def add_user(ledger: Ledger, name: str, password: str, roles: dict[uuid.UUID | None, Role]) -> uuid.UUID:
    name = name.strip()
    if not name or len(name) > 80:
        raise EarwitnessError("a name of 1 to 80 characters is needed")
    _check_password(password)
    made = uuid.uuid4()
    with ledger.writing() as connection:
        if connection.execute(select(user.c.id).where(user.c.name == name)).first():
            raise EarwitnessError(
                f"there is a user {name} already; `earwitness user change` gives another password or role"
            )
        connection.execute(
            insert(user).values(id=made, name=name, password=_hasher().hash(password), made_at=datetime.now(UTC))
        )
        _write_roles(connection, made, roles)
    return made


def _check_password(password: str) -> None:
    if not SHORTEST <= len(password) <= LONGEST:
        raise EarwitnessError(f"a password of {SHORTEST} to {LONGEST} characters is needed; a sentence would do")


def _write_roles(connection, of: uuid.UUID, roles: dict[uuid.UUID | None, Role]) -> None:  # type: ignore[no-untyped-def]
    for site, held in roles.items():
        if held not in ROLES:
            raise EarwitnessError(f"there is no role {held}; {', '.join(ROLES)} would do")
        connection.execute(insert(role).values(id=uuid.uuid4(), user_id=of, site_id=site, role=held))


def change_user(
    ledger: Ledger, of: uuid.UUID, *, password: str | None = None, roles: dict[uuid.UUID | None, Role] | None = None,
    but: str = "",
) -> None:  # fmt: skip
    """A new password or new roles; either ends the user's sessions, but the one with that token."""
    if password is not None:
        _check_password(password)
    with ledger.writing() as connection:
        if password is not None:
            connection.execute(update(user).where(user.c.id == of).values(password=_hasher().hash(password)))
        if roles is not None:
            connection.execute(delete(role).where(role.c.user_id == of))
            _write_roles(connection, of, roles)
        others = session.c.token_sha256 != _hashed(but)
        connection.execute(delete(session).where(session.c.user_id == of, others))


def remove_user(ledger: Ledger, of: uuid.UUID) -> None:
    with ledger.writing() as connection:
        for table in (session, role):
            connection.execute(delete(table).where(table.c.user_id == of))
        connection.execute(delete(user).where(user.c.id == of))


def user_called(ledger: Ledger, name: str) -> User:
    found = next((u for u in users(ledger) if u.name == name), None)
    if found is None:
        raise EarwitnessError(f"there is no account {name}")
    return found


def users(ledger: Ledger) -> Sequence[User]:
    with ledger.reading() as connection:
        names = connection.execute(select(user.c.id, user.c.name).order_by(user.c.name)).all()
        held = connection.execute(select(role.c.user_id, role.c.site_id, role.c.role)).all()
    return [User(i, name, {s: r for u, s, r in held if u == i}) for i, name in names]


class Gate:
    """Signing in, with patience for mistakes and none for guessing."""

    def __init__(self, ledger: Ledger) -> None:
        self.ledger = ledger
        self._wrong: dict[str, tuple[int, float]] = {}
        self._lock = threading.Lock()

    def sign_in(self, name: str, password: str) -> str:
        """A new session's token; Refusal where name and password do not belong together."""
        found = self._proven(name.strip()[:80], password)
        if found is None:
            raise Refusal(401, "sign-in-wrong", "Name and password do not belong together.")
        token, now = secrets.token_urlsafe(32), datetime.now(UTC)
        with self.ledger.writing() as connection:
            connection.execute(delete(session).where(session.c.seen_at < now - IDLE))
            connection.execute(
                insert(session).values(token_sha256=_hashed(token), user_id=found.id, made_at=now, seen_at=now)
            )
            if _hasher().check_needs_rehash(found.password):
                fresh = _hasher().hash(password)
                connection.execute(update(user).where(user.c.id == found.id).values(password=fresh))
        return token

    def change_password(self, name: str, old: str, new: str, token: str) -> None:
        """By whoever knows the old one; every session of the name ends but the one with this token."""
        found = self._proven(name, old)
        if found is None:
            raise Refusal(422, "old-password-wrong", "This is not your present password.", field="old")
        change_user(self.ledger, found.id, password=new, but=token)

    def _proven(self, name: str, password: str) -> Any:
        """The account's row; None where the password is not its own, and after some of these one has to wait."""
        self._wait(name)
        with self.ledger.reading() as connection:
            found = connection.execute(select(user.c.id, user.c.password).where(user.c.name == name)).first()
        fits = self._fits(found.password if found else _nobodys(), password[:LONGEST]) and found is not None
        with self._lock:
            if fits:
                self._wrong.pop(name, None)
            else:
                self._wrong[name] = (self._wrong.get(name, (0, 0.0))[0] + 1, time.monotonic())
        return found if fits else None

    def who(self, token: str | None) -> Who | None:
        """Who holds this session; None where it is none or has ended."""
        if not token:
            return None
        now = datetime.now(UTC)
        with self.ledger.reading() as connection:
            found = connection.execute(
                select(user.c.id, user.c.name, session.c.made_at, session.c.seen_at)
                .join(session, session.c.user_id == user.c.id)
                .where(session.c.token_sha256 == _hashed(token))
            ).first()
            if found is None or now - found.seen_at > IDLE or now - found.made_at > WHOLE:
                return None
            held = connection.execute(select(role.c.site_id, role.c.role).where(role.c.user_id == found.id)).all()
        if now - found.seen_at > SEEN_EVERY:
            with self.ledger.writing() as connection:
                connection.execute(update(session).where(session.c.token_sha256 == _hashed(token)).values(seen_at=now))
        return Who(found.name, {site: r for site, r in held})

    def sign_out(self, token: str | None) -> None:
        if token:
            with self.ledger.writing() as connection:
                connection.execute(delete(session).where(session.c.token_sha256 == _hashed(token)))

    def _wait(self, name: str) -> None:
        with self._lock:
            count, last = self._wrong.get(name, (0, 0.0))
            if len(self._wrong) > 10_000:
                self._wrong.clear()
        left = WAIT_S - (time.monotonic() - last)
        if count >= FREE_TRIES and left > 0:
            text = "Too many wrong passwords for this name; wait {seconds} seconds and try again."
            raise Refusal(429, "sign-in-wait", text, seconds=max(1, round(left)))

    @staticmethod
    def _fits(kept: str, password: str) -> bool:
        from argon2.exceptions import Argon2Error, InvalidHashError

        try:
            return _hasher().verify(kept, password)
        except (Argon2Error, InvalidHashError):
            return False


def _hashed(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
