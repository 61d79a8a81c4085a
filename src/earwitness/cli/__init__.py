"""The command line: one file a command, loaded only when it is called."""

from __future__ import annotations

import os
import sys
from importlib import import_module

import click

from earwitness import __version__
from earwitness.errors import EarwitnessError

COMMANDS = {  # command: the module below earwitness.cli that holds `command`, and its line in the list
    "survey": ("survey", "Judge a folder of recordings and its sheet; write the ranked repair list and the report."),
    "demo": ("demo", "Write an invented site's survey and run the main job on it."),
    "diagnose": ("diagnose", "Judge one recording and say why."),
    "points": ("points", "The points of a ledger: take them over from a sheet, list them."),
    "findings": ("findings", "The findings of a ledger by rank; schedule, mend, dismiss or reopen one."),
    "reassess": ("reassess", "Judge what is filed anew with the present version; earlier judgements are kept."),
    "tags": ("tags", "Print the points' tags as sheets of QR codes."),
    "export": ("export", "A ledger into a file: JSON without loss, or sheets for people."),
    "import": ("import_", "Fill a ledger with an exported one."),
    "trend": ("trend", "One point over time: what is normal there, whether it changed, how soon an alarm."),
    "round": ("round", "The points of an area in the order of a short walk."),
    "plan": ("plan", "The repairs of the coming weeks, within hours, budget, parts and shutdowns."),
    "answer": ("answer", "What the fitter found at a tag; it corrects the probabilities of this site."),
    "told": ("told", "Who was told of a danger, and when."),
    "grease": ("grease", "How much grease, how often, when to stop; and the log."),
    "check": ("check", "File the check of an instrument on a fixed source."),
    "programme": ("programme", "Found, mended, proven, lost again: the whole at a glance."),
    "flow": ("flow", "Gas through a hole, with its interval, cost and cautions."),
    "calibrate": ("calibrate", "Fit the site's own leaks of known size, so that levels give flows."),
    "system-test": ("system_test", "What the whole air system leaks: load and unload times, bleed-down, night meter."),
    "what-if": ("what_if", "What a lower pressure, other controls or a zone shut at night would save."),
    "serve": ("serve", "Open the workbench in a browser on this machine."),
    "user": ("user", "Accounts, for a server that others can reach."),
}

SHOW = "EARWITNESS_TRACEBACK"  # set in the environment: a fault of the program shows where it lies


class LazyGroup(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        found: click.Command = import_module(f"earwitness.cli.{COMMANDS[cmd_name][0]}").command
        for below in found.commands.values() if isinstance(found, click.Group) else ():
            below.epilog = below.epilog or found.epilog  # the examples of a group are those of its commands
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Names and one line each, without importing a command."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="earwitness")
def group() -> None:
    """From what an inspector hears to a repair that is made, proven and paid for."""


def main() -> None:
    """Run a command; what the user can mend is one plain line on stderr and exit code 2."""
    try:
        group.main(standalone_mode=False)
    except click.exceptions.Exit as stop:
        sys.exit(stop.exit_code)
    except click.ClickException as error:
        error.show()
        sys.exit(2)
    except (KeyboardInterrupt, click.Abort):
        click.echo("earwitness: interrupted; what stood before still stands", err=True)
        sys.exit(130)
    except EarwitnessError as error:
        click.echo(f"earwitness: {error}", err=True)
        sys.exit(2)
    except Exception as error:
        if os.environ.get(SHOW):
            raise
        click.echo(f"earwitness: {_told(error)}", err=True)
        sys.exit(2)


def _told(error: Exception) -> str:
    """A file that the system refuses is the user's to mend; all else is a fault of the program."""
    if isinstance(error, OSError) and error.filename and error.strerror:
        named = error.filename2 or error.filename
        return f"{os.fsdecode(named)}: {error.strerror.lower()}; a file or folder that you may read and write would do"
    what = f"{type(error).__name__}: {error}".splitlines()[0]
    return f"this should not have happened ({what}); set {SHOW}=1 to see where"
