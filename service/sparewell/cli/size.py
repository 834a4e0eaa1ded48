"""`sparewell size`: which size fits."""

from __future__ import annotations

import click

from sparewell.cli.calculators import CalculatorGroup
from sparewell.cli.failures import EXIT_STATUSES


@click.group(cls=CalculatorGroup, epilog=EXIT_STATUSES)
def command() -> None:
    """Ask the server which size fits a measured pen.

    Each calculator has its own options, with how to take each reading: sparewell size sac --help

    \b
    Example: sparewell size sac --barrel-bore "8.0 mm" --nipple-diameter "6.4 mm" \\
                 --bar-height "0.9 mm" --barrel-depth "62 mm"
    """  # noqa: D301 - click reads the backspace as "keep these lines"
