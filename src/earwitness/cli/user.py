"""earwitness user: who may sign in where the server can be reached by others."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import UUID

import click

from earwitness.cli.path import PATH
from earwitness.errors import EarwitnessError
from earwitness.server.page import Role

if TYPE_CHECKING:
    from earwitness.server.house import House
    from earwitness.server.users import User

EPILOG = """\b
Examples:
  earwitness user add "M. Linde" --role administer --ledger site.ledger
  earwitness user add "K. Ode" --role inspect --site "Quillmark oat works" --ledger site.ledger
  earwitness user list --ledger site.ledger
  earwitness user change "K. Ode" --role plan --site "Quillmark oat works" --ledger site.ledger
  earwitness user remove "K. Ode" --ledger site.ledger
"""


def _ledger(function: Any) -> Any:
    function = click.option("--recordings", type=PATH, help="For a ledger on a server.")(function)
    return click.option("--ledger", "where", required=True, help="The ledger's file, or a PostgreSQL URL.")(function)


@click.group("user", epilog=EPILOG)
def command() -> None:
    """Accounts: name, password and role (look, inspect, plan, administer) at one site or at all."""


def _site(function: Any) -> Any:
    return click.option("--site", multiple=True, help="Name of a site; every site where none is named.")(function)


@command.command("add")
@click.argument("name")
@click.option("--role", type=click.Choice(["look", "inspect", "plan", "administer"]), required=True)
@_site
@click.option("--password", help="Asked for where it is not given.")
@_ledger
def add(
    name: str, role: Role, site: tuple[str, ...], password: str | None, where: str, recordings: Path | None
) -> None:
    """Make an account."""
    from earwitness.server.users import add_user

    house = _house(where, recordings)
    roles = _roles(house, role, site)
    add_user(house.ledger, name, password or _asked(), roles)
    click.echo(f"{name} may sign in ({role} at {', '.join(site) or 'every site'}).")


@command.command("change")
@click.argument("name")
@click.option("--role", type=click.Choice(["look", "inspect", "plan", "administer"]), help="In place of every other.")
@_site
@click.option("--password", help="Asked for where neither a role nor a password is given.")
@_ledger
def change(
    name: str, role: Role | None, site: tuple[str, ...], password: str | None, where: str, recordings: Path | None
) -> None:
    """Give an account another password or role; its sessions end."""
    from earwitness.server.users import change_user, user_called

    house = _house(where, recordings)
    found = user_called(house.ledger, name)
    if site and role is None:
        raise EarwitnessError("which role at that site? state --role")
    roles = None if role is None else _roles(house, role, site)
    password = password or (_asked() if role is None else None)
    change_user(house.ledger, found.id, password=password, roles=roles)
    click.echo(_line(house, user_called(house.ledger, name)))


@command.command("list")
@_ledger
def list_(where: str, recordings: Path | None) -> None:
    """Who has an account, with which role where."""
    from earwitness.server.users import users

    house = _house(where, recordings)
    for user in users(house.ledger):
        click.echo(_line(house, user))


@command.command("remove")
@click.argument("name")
@_ledger
def remove(name: str, where: str, recordings: Path | None) -> None:
    """End an account and its sessions."""
    from earwitness.server.users import remove_user, user_called

    house = _house(where, recordings)
    remove_user(house.ledger, user_called(house.ledger, name).id)
    click.echo(f"{name} can no longer sign in.")


def _house(where: str, recordings: Path | None) -> House:
    from earwitness.ledger.database import open_ledger
    from earwitness.server.house import House

    return House(open_ledger(where, recordings))


def _sites(house: House) -> dict[str, UUID]:
    from earwitness.server.ask import Who

    return {s.name: s.id for s in house.sites(Who("", {None: "administer"}))}


def _roles(house: House, role: Role, at: tuple[str, ...]) -> dict[UUID | None, Role]:
    known = _sites(house)
    if unknown := [s for s in at if s not in known]:
        raise EarwitnessError(f"there is no site {unknown[0]}; {', '.join(known) or 'none'} would do")
    return {known[s]: role for s in at} or {None: role}


def _line(house: House, user: User) -> str:
    return f"{user.name}: {user.where({site: name for name, site in _sites(house).items()}) or 'nothing'}"


def _asked() -> str:
    return str(click.prompt("Password", hide_input=True, confirmation_prompt=True))
