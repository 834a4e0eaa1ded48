"""Calculators and fits over HTTP. Each declared calculator gets its own documented endpoints."""

from __future__ import annotations

from typing import Any

from sparewell.edge.api import Blueprint
from sparewell.edge.context import work
from sparewell.edge.paging import PageArguments, answer, each, page_of_rows
from sparewell.edge.scopes import scope
from sparewell.errors import NotFound
from sparewell.extend.declarations import Calculator
from sparewell.extend.host import Declarations
from sparewell.extend.values import ReadValue
from sparewell.fitting.materials import of_pieces_and_pen
from sparewell.fitting.operations import ShownCalculator, find_calculator, fit, run_of
from sparewell.fitting.schemas import (
    CalculatorPageSchema,
    CalculatorSchema,
    answer_schema,
    fit_answer_schema,
    fit_schema,
    inputs_schema,
)


def _shown(calculator: Calculator) -> ShownCalculator:
    return ShownCalculator(calculator, work().declared.plugin_of(calculator.name))


def calculator_blueprint(declared: Declarations) -> Blueprint:
    """Return the endpoints of every declared calculator."""
    blueprint = Blueprint("fitting", __name__, url_prefix="/v1")
    for calculator in declared.calculators.values():
        shown = answer_schema(calculator)
        _add_calculator(blueprint, calculator, shown)
        if calculator.fits_pieces:
            _add_fit(blueprint, calculator, shown)
    _add_listing(blueprint)
    return blueprint


def _add_calculator(blueprint: Blueprint, calculator: Calculator, shown: type) -> None:
    @blueprint.arguments(inputs_schema(calculator))
    @blueprint.response(200, shown)
    @scope("read")
    def calculate(body: dict[str, ReadValue]) -> Any:
        return run_of(work(), calculator.name, body).calculate()

    # The document gives a written-out address precedence over one with a name in it, so what
    # can be read at `/calculators/{name}` is documented here as well.
    @blueprint.response(200, CalculatorSchema)
    def describe() -> Any:
        return _shown(calculator)

    calculate.__doc__ = f"{calculator.title}.\n\n{calculator.help}"
    describe.__doc__ = (
        f"Return what this calculator takes, and on what it rests: {calculator.title}."
    )
    address = f"/calculators/{calculator.name}"
    blueprint.add_url_rule(address, f"calculate_{calculator.name}", calculate, methods=["POST"])
    blueprint.add_url_rule(address, f"describe_{calculator.name}", describe, methods=["GET"])


def _add_fit(blueprint: Blueprint, calculator: Calculator, shown: type) -> None:
    @blueprint.arguments(fit_schema(calculator))
    @blueprint.response(200, fit_answer_schema(calculator, shown))
    @scope("read")
    def find(body: dict[str, Any]) -> Any:
        limit = body.pop("limit")
        wanted, of_pen = of_pieces_and_pen(
            work().declared, calculator.kind or "", body.pop("materials"), body.pop("pen_materials")
        )
        run = run_of(work(), calculator.name, body, of_pen)
        found = fit(work(), run, materials=wanted, limit=limit)
        return {**vars(found.calculation), **vars(found)}

    find.__doc__ = f"{calculator.title}: the pieces in hand.\n\n{calculator.help}"
    blueprint.add_url_rule(
        f"/fits/{calculator.name}", f"fit_{calculator.name}", find, methods=["POST"]
    )


def _add_listing(blueprint: Blueprint) -> None:
    @blueprint.route("/calculators")
    @blueprint.arguments(PageArguments, location="query")
    @blueprint.response(200, CalculatorPageSchema)
    def list_calculators(arguments: dict[str, Any]) -> Any:
        """List the calculators of the loaded plugins."""
        rows = list(work().declared.calculators.values())
        return answer(
            "calculators",
            page_of_rows(rows, arguments),
            each(_shown),
        )

    @blueprint.route("/calculators/<identifier:name>")
    @blueprint.response(200, CalculatorSchema)
    def get_calculator(name: str) -> Any:
        """Return one calculator: what it takes, and on what it rests."""
        return _shown(find_calculator(work().declared, name))

    @scope("read")
    def no_calculator(name: str) -> Any:
        find_calculator(work().declared, name)

    @scope("read")
    def no_fit(name: str) -> Any:
        find_calculator(work().declared, name)
        raise NotFound(f"the calculator {name!r} does not choose among pieces in hand")

    blueprint.add_undocumented_rule("/calculators/<identifier:name>", no_calculator, "POST")
    blueprint.add_undocumented_rule("/fits/<identifier:name>", no_fit, "POST")
