"""What a command imports, and what it says of itself."""

from __future__ import annotations

import re
from importlib import import_module
from typing import Any

import click
import pytest

from cli.conftest import Workshop
from sparewell.cli.main import COMMANDS

HEAVY = {"flask", "sqlalchemy", "alembic", "marshmallow", "pluggy"}


def _commands() -> list[tuple[str, click.Command]]:
    found = []
    for name, place in COMMANDS.items():
        command = import_module(f"sparewell.cli.{place.module}").command
        found.append((name, command))
        if type(command) is click.Group:
            found += [(f"{name} {inner}", item) for inner, item in command.commands.items()]
    return found


@pytest.mark.parametrize(
    "arguments",
    [
        ("--help",),
        ("size", "sac", "--nipple-diameter", "6.4 mm", "--barrel-bore", "8.0 mm"),
        ("fit", "sac", "--nipple-diameter", "6.4 mm", "--barrel-bore", "8.0 mm"),
        ("stock", "check", "--kind", "sac"),
    ],
)
def test_client_commands_import_no_server(stocked: Any, arguments: tuple[str, ...]) -> None:
    """The commands that only ask do without the server's libraries, or they would be slow."""
    ran = stocked[0].python("-X", "importtime", "-m", "sparewell.cli.main", *arguments)
    assert ran.status == 0
    imported = set(re.findall(r"\| +([\w.]+)$", ran.err, re.MULTILINE))
    assert "click" in imported
    assert {name.partition(".")[0] for name in imported} & HEAVY == set()


def test_the_overview_imports_only_what_it_says(workshop: Workshop) -> None:
    """Whoever asks what there is waits for click and a table of names, for nothing besides."""
    overview = "from sparewell.cli.main import main; main()"
    listing = "import atexit, sys; atexit.register(lambda: print(*sys.modules, file=sys.stderr)); "
    shown = workshop.python("-c", listing + overview, "--help")
    alone = workshop.python("-c", listing + "import click; click.Group().main()", "--help")
    assert (shown.status, alone.status) == (0, 0)
    assert "Commands:" in shown.out
    assert set(shown.err.split()) - set(alone.err.split()) == {
        "sparewell",
        "sparewell.cli",
        "sparewell.cli.failures",
        "sparewell.cli.main",
    }


def test_the_overview_says_what_each_command_says() -> None:
    """The sentence in the overview is the first one of the command's own help."""
    for name, place in COMMANDS.items():
        command = import_module(f"sparewell.cli.{place.module}").command
        assert command.help.splitlines()[0] == place.short_help, name


@pytest.mark.parametrize(("name", "command"), _commands())
def test_every_help_is_worth_reading(name: str, command: click.Command) -> None:
    """Each command has a sentence, an example and, where it does something, its exit statuses."""
    assert command.help is not None
    if not isinstance(command, click.Group) or name in {"size", "fit"}:
        assert "Exit status: 0" in (command.epilog or "")
    if name != "stock":
        assert re.search(rf"Example: .*sparewell {name}", command.help)
