"""Calculators and fits over HTTP. Each declared calculator gets its own documented endpoints."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from sparewell.edge.api import Blueprint
from sparewell.edge.context import work
from sparewell.edge.paging import PageArguments, answer, page_of_rows
from sparewell.edge.scopes import scope
from sparewell.errors import NotFound
from sparewell.extend.calculation import Calculation
from sparewell.extend.declarations import Calculator
from sparewell.extend.host import Declarations
from sparewell.extend.values import ReadValue
from sparewell.fitting.materials import of_pieces_and_pen
from sparewell.fitting.operations import (
    Candidate,
    Fit,
    RefusedPiece,
    find_calculator,
    fit,
    run_of,
)
from sparewell.fitting.schemas import (
    CalculatorPageSchema,
    CalculatorSchema,
    answer_schema,
    fit_answer_schema,
    fit_schema,
    inputs_schema,
)
from sparewell.measure.length import millimetres


def show_calculation(calculation: Calculation) -> dict[str, Any]:
    """Return an answer as its schema shows it."""
    return {
        "calculator": calculation.calculator,
        "result": calculation.result,
        "warnings": calculation.warnings,
        "cautions": calculation.cautions,
        "settings": calculation.settings,
        "sources": calculation.sources,
        "drawing": calculation.drawing,
    }


def show_candidate(candidate: Candidate) -> dict[str, Any]:
    """Return a piece that would do as its schema shows it."""
    return {
        "lot": candidate.lot.id,
        "part": candidate.lot.part.number if candidate.lot.part else None,
        "kind": candidate.lot.kind,
        "place": candidate.lot.place.code,
        "available": candidate.lot.available,
        "material": candidate.lot.material,
        "basis": candidate.basis,
        "verdict": candidate.verdict.value,
        "margins": {name: _margin(value) for name, value in candidate.margins.items()},
        "why": candidate.why,
        "fit_by": candidate.fit_by.day,
    }


def _margin(value: int | Decimal) -> float:
    return float(value) if isinstance(value, Decimal) else millimetres(value)


def show_refused(refused: RefusedPiece) -> dict[str, Any]:
    """Return a piece that would not do as its schema shows it."""
    return {
        "lot": refused.lot.id,
        "part": refused.lot.part.number if refused.lot.part else None,
        "place": refused.lot.place.code,
        "why": refused.why,
        "job": refused.job,
    }


def show_found(found: Fit) -> dict[str, Any]:
    """Return the pieces of a fit as their schema shows them."""
    return {
        "candidates": [show_candidate(candidate) for candidate in found.candidates],
        "refused": [show_refused(refused) for refused in found.refused],
        "to_buy": found.to_buy,
    }


def _show_calculator(calculator: Calculator) -> dict[str, Any]:
    return {
        "name": calculator.name,
        "title": calculator.title,
        "help": calculator.help,
        "plugin": work().declared.plugin_of(calculator.name),
        "kind": calculator.kind,
        "fits_pieces": calculator.fits_pieces,
        "inputs": calculator.inputs,
        "outputs": calculator.outputs,
        "headline": calculator.headline,
        "asks_first": calculator.asks_first,
        "settings": [setting.name for setting in calculator.settings],
        "sources": calculator.sources,
    }


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
        return show_calculation(run_of(work(), calculator.name, body).calculate())

    # The document gives a written-out address precedence over one with a name in it, so what
    # can be read at `/calculators/{name}` is documented here as well.
    @blueprint.response(200, CalculatorSchema)
    def describe() -> Any:
        return _show_calculator(calculator)

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
        return show_calculation(found.calculation) | show_found(found)

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
        return answer("calculators", page_of_rows(rows, arguments), _show_calculator)

    @blueprint.route("/calculators/<identifier:name>")
    @blueprint.response(200, CalculatorSchema)
    def get_calculator(name: str) -> Any:
        """Return one calculator: what it takes, and on what it rests."""
        return _show_calculator(find_calculator(work().declared, name))

    @scope("read")
    def no_calculator(name: str) -> Any:
        find_calculator(work().declared, name)

    @scope("read")
    def no_fit(name: str) -> Any:
        find_calculator(work().declared, name)
        raise NotFound(f"the calculator {name!r} does not choose among pieces in hand")

    blueprint.add_undocumented_rule("/calculators/<identifier:name>", no_calculator, "POST")
    blueprint.add_undocumented_rule("/fits/<identifier:name>", no_fit, "POST")
