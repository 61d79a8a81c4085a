"""earwitness user: who may sign in where the server can be reached by others."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from earwitness.errors import EarwitnessError
from earwitness.server.page import Role

EPILOG = """\b
Examples:
  earwitness user add "M. Linde" --role administer --ledger site.ledger
  earwitness user add "K. Ode" --role inspect --site "Quillmark oat works" --ledger site.ledger
  earwitness user list --ledger site.ledger
  earwitness user remove "K. Ode" --ledger site.ledger
"""


def _ledger(function: Any) -> Any:
    function = click.option("--recordings", type=click.Path(path_type=Path), help="For a ledger on a server.")(function)
    return click.option("--ledger", "where", required=True, help="The ledger's file, or a PostgreSQL URL.")(function)


@click.group("user", epilog=EPILOG)
def command() -> None:
    """Accounts: name, password and role (look, inspect, plan, administer) at one site or at all."""


@command.command("add")
@click.argument("name")
@click.option("--role", type=click.Choice(["look", "inspect", "plan", "administer"]), required=True)
@click.option("--site", multiple=True, help="Name of a site; every site where none is named.")
@click.option("--password", help="Asked for where it is not given.")
@_ledger
def add(
    name: str, role: Role, site: tuple[str, ...], password: str | None, where: str, recordings: Path | None
) -> None:
    """Make an account."""
    from earwitness.ledger.database import open_ledger
    from earwitness.server.ask import Who
    from earwitness.server.house import House
    from earwitness.server.users import add_user

    house = House(open_ledger(where, recordings))
    known = {s.name: s.id for s in house.sites(Who("", {None: "administer"}))}
    if unknown := [s for s in site if s not in known]:
        raise EarwitnessError(f"there is no site {unknown[0]}; {', '.join(known) or 'none'} would do")
    password = password or click.prompt("Password", hide_input=True, confirmation_prompt=True)
    add_user(house.ledger, name, password, {known[s]: role for s in site} or {None: role})
    click.echo(f"{name} may sign in ({role} at {', '.join(site) or 'every site'}).")


@command.command("list")
@_ledger
def list_(where: str, recordings: Path | None) -> None:
    """Who has an account, and the role."""
    from earwitness.ledger.database import open_ledger
    from earwitness.server.house import House
    from earwitness.server.users import users

    for user in users(House(open_ledger(where, recordings)).ledger):
        click.echo(f"{user.name}: {', '.join(sorted(set(user.roles.values())))}")


@command.command("remove")
@click.argument("name")
@_ledger
def remove(name: str, where: str, recordings: Path | None) -> None:
    """End an account and its sessions."""
    from earwitness.ledger.database import open_ledger
    from earwitness.server.house import House
    from earwitness.server.users import remove_user, users

    house = House(open_ledger(where, recordings))
    found = next((u for u in users(house.ledger) if u.name == name), None)
    if found is None:
        raise EarwitnessError(f"there is no account {name}")
    remove_user(house.ledger, found.id)
    click.echo(f"{name} can no longer sign in.")
