"""How a command ends: four exit statuses for scripts, and failures told in one plain sentence."""

from __future__ import annotations

from typing import IO, TYPE_CHECKING, Any, Final

import click

if TYPE_CHECKING:
    from sparewell.configuration import Configuration

DONE: Final = 0
NO: Final = 1
WRONG_USAGE: Final = 2
UNREACHABLE: Final = 3

EXIT_STATUSES: Final = (
    "Exit status: 0 done; 1 the answer is no (short, a fault, or refused); 2 wrong usage, or a "
    "calculator or kind that does not exist; 3 the server or the database cannot be reached, or "
    "does not let you in."
)


class Failure(click.ClickException):
    """A command cannot do what was asked; the message says why, the exit status which kind."""

    def __init__(self, message: str, exit_status: int) -> None:
        super().__init__(message)
        self.exit_code = exit_status  # type: ignore[misc] # click reads it here

    def show(self, file: IO[Any] | None = None) -> None:
        """Write the message to standard error."""
        click.echo(f"sparewell: {self.format_message()}", file=file, err=file is None)


def configuration() -> Configuration:
    """Return what the environment says. Raises :class:`Failure`."""
    # The overview needs none of it, and is to be there at once.
    from sparewell.configuration import ConfigurationError, read_configuration  # noqa: PLC0415

    try:
        return read_configuration()
    except ConfigurationError as error:
        raise Failure(str(error), WRONG_USAGE) from error


def note(sentence: str) -> None:
    """Write a sentence for people to standard error, apart from the answer."""
    click.echo(sentence, err=True)
