"""`sparewell fit`: which pieces in hand fit."""

from __future__ import annotations

import click

from sparewell.cli.calculators import CalculatorGroup
from sparewell.cli.failures import EXIT_STATUSES


@click.group(cls=CalculatorGroup, fits=True, epilog=EXIT_STATUSES)
def command() -> None:
    """Ask the server which pieces in hand fit a measured pen, and where they lie.

    Each calculator has its own options, with how to take each reading: sparewell fit sac --help

    \b
    Example: sparewell fit sac --barrel-bore "8.0 mm" --nipple-diameter "6.4 mm" \\
                 --bar-height "0.9 mm" --barrel-depth "62 mm" --material latex
    """  # noqa: D301 - click reads the backspace as "keep these lines"
