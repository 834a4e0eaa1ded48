"""Running a calculator, guarded: one that fails answers for itself alone.

The phases: compute; then the optional drawing; then the result is held against the outputs the
plugin declared, so that what is documented is what is sent.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Hashable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import TypeVar

from sparewell.errors import Broken, Impossible, Problem
from sparewell.extend.declarations import (
    Advice,
    Answer,
    Calculator,
    Envelope,
    ImpossibleInput,
    Judgement,
    Making,
    Piece,
    Price,
    Verdict,
)
from sparewell.extend.fields import Output, OutputType, Value
from sparewell.extend.host import Declarations
from sparewell.extend.inputs import Inputs
from sparewell.extend.settings import settings_used
from sparewell.extend.values import improbable, slips
from sparewell.measure.length import millimetres
from sparewell.tally import Spent, spent

Returned = TypeVar("Returned")

_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Calculation:
    """A checked answer, ready to be shown. Lengths are millimetres."""

    calculator: str
    result: dict[str, object]
    warnings: list[str]
    cautions: list[str]
    settings: list[dict[str, object]]
    sources: list[str]
    drawing: str | None


class Run:
    """One calculator with one set of inputs and the workshop's settings."""

    def __init__(
        self,
        declared: Declarations,
        calculator: Calculator,
        values: Mapping[str, Value],
        spreads: Mapping[str, int],
        settings: Mapping[str, Value | None],
        today: date,
    ) -> None:
        self.calculator = calculator
        self.inputs = Inputs(values, spreads=spreads, settings=settings, today=today)
        # What the pen is made of, and which materials its pieces are taken in, the first one first.
        self.pen_materials: Sequence[str] = ()
        self.materials: Sequence[str] = ()
        self._declared = declared
        self._settings = settings
        self._plugin = declared.plugin_of(calculator.name)
        self._judgements: dict[Hashable, Judgement] = {}

    def calculate(self, *, with_drawing: bool = True) -> Calculation:
        """Return the answer. Raises :class:`Impossible` and :class:`Broken`."""
        answer = self._guarded("compute", self._answer)
        result = self._guarded(
            "result", lambda: dump_result(self.calculator.outputs, answer.result)
        )
        drawing = None
        if with_drawing and self.calculator.drawing is not None:
            draw = self.calculator.drawing
            drawing = self._guarded("drawing", lambda: _of_type(str, draw(self.inputs)))
        warnings = improbable(self.calculator.inputs, self.inputs)
        return Calculation(
            calculator=self.calculator.name,
            result=result,
            warnings=[*warnings, *answer.warnings],
            cautions=list(answer.cautions),
            settings=settings_used(self.inputs.settings_read, self._settings, self._declared),
            sources=list(self.calculator.sources),
            drawing=drawing,
        )

    def _answer(self) -> Answer:
        return _of_type(Answer, self.calculator.compute(self.inputs))

    def envelope(self) -> Envelope:
        """Return what would fit."""
        ask = self.calculator.envelope
        if ask is None:
            raise Broken(f"{self.calculator.name} has no envelope", self._plugin)
        return self._guarded("envelope", lambda: self._checked(ask(self.inputs)))

    def _checked(self, envelope: Envelope) -> Envelope:
        """Return an envelope that can be searched: of its kind, ranging over what leads it."""
        _of_type(Envelope, envelope)
        kind = self._declared.kinds[self.calculator.kind or ""]
        names = {dimension.name for dimension in kind.dimensions}
        if envelope.kind != kind.name:
            raise TypeError(f"an envelope of the kind {envelope.kind!r}, not {kind.name!r}")
        if kind.led_by not in envelope.ranges or not envelope.ranges.keys() <= names:
            raise TypeError(f"the ranges must be of {kind.led_by} and others of {sorted(names)}")
        return envelope

    def advise(self) -> Advice | None:
        """Return the answer in short, where the calculator has words of its own for it."""
        ask = self.calculator.advise
        if ask is None:
            return None
        return self._guarded("advise", lambda: _of_type(Advice, ask(self.inputs)))

    def price(self, piece: Piece) -> Price:
        """Return what a piece that would do costs the pen, as far as the calculator knows."""
        ask = self.calculator.price
        if ask is None:
            return Price()
        return self._guarded("price", lambda: _of_type(Price, ask(self.inputs, piece)))

    def make(self, piece: Piece) -> Making | None:
        """Return what fitting pieces one of another kind gives; None where it gives none."""
        ask = self.calculator.make
        if ask is None:
            return None

        def asked() -> Making | None:
            made = ask(self.inputs, piece)
            return None if made is None else _of_type(Making, made)

        return self._guarded("make", asked)

    def settles(self, piece: Piece) -> Mapping[str, int]:
        """Return the readings, in nanometres, that a piece settles for other calculators."""
        ask = self.calculator.settles
        if ask is None:
            return {}
        return self._guarded("settles", lambda: _lengths(ask(self.inputs, piece)))

    def quantity(self) -> int | None:
        """Return how many pieces fill the place, where the calculator says so and knows it."""
        if not self.calculator.quantity:
            return None
        found: object = self.calculate(with_drawing=False).result
        for step in self.calculator.quantity.split("."):
            found = found[step] if isinstance(found, Mapping) else None
        return found if isinstance(found, int) and found > 0 else None

    def changed(self, **values: Value) -> Run:
        """Return the same run with some values replaced."""
        other = copy(self)
        other.inputs = self.inputs.changed(**values)
        other._judgements = {}  # noqa: SLF001 - its own copy
        return other

    def judge(self, piece: Piece) -> Judgement:
        """Return the verdict on one piece. A nominal basis earns at best "try it in".

        Of pieces that are alike in everything the calculator is asked once.
        """
        alike = piece.facts
        if alike not in self._judgements:
            self._judgements[alike] = self._judge(piece)
        return self._judgements[alike]

    def _judge(self, piece: Piece) -> Judgement:
        ask = self.calculator.judge
        if ask is None:
            raise Broken(f"{self.calculator.name} has no judge", self._plugin)
        judgement = self._guarded("judge", lambda: _judgement(ask(self.inputs, piece)))
        lead = self._declared.kinds[piece.kind].led_by
        if judgement.verdict is Verdict.FITS and piece.basis.get(lead) != "measured":
            return replace(
                judgement,
                verdict=Verdict.TRY_IN,
                why=lambda: (
                    f"{judgement.why}; by the catalogue or its packet only: try it in, or measure "
                    "the bag"
                ),
            )
        return judgement

    def why(self, judgement: Judgement) -> str:
        """Return the sentence of a verdict, which the plugin may write only now."""
        return self._guarded("judge", lambda: judgement.why)

    def _slips(self) -> list[tuple[str, str]]:
        """Return the lengths that look mistyped, if all would be well with what was likely meant.

        A bore of "0.315" without its unit is the fault then, and not the nipple it is too small
        for.
        """
        meant = slips(self.calculator.inputs, self.inputs)
        if not meant:
            return []
        try:
            self.calculator.compute(self.inputs.changed(**meant))
        except Exception:  # noqa: BLE001 - no guess then; the fault itself is told
            return []
        fields = [field for field in self.calculator.inputs if field.name in meant]
        sentences = improbable(fields, self.inputs)
        return [(field.name, each) for field, each in zip(fields, sentences, strict=True)]

    def _guarded(self, part: str, action: Callable[[], Returned]) -> Returned:
        try:
            with spent(Spent.PLUGINS):
                return action()
        except ImpossibleInput as error:
            problems = self._slips() or error.problems
            raise Impossible(
                "; ".join(sentence for _, sentence in problems),
                [Problem(f"/{name}", sentence) for name, sentence in problems],
            ) from error
        except Exception as error:
            _log.exception("plugin %s failed in %s", self._plugin, part)
            raise Broken(
                f"the plugin {self._plugin!r} failed in {part} of the calculator "
                f"{self.calculator.name!r} ({type(error).__name__}); everything else goes on",
                self._plugin,
            ) from error


def _lengths(settled: Mapping[str, int]) -> Mapping[str, int]:
    """Return readings that a plugin says are settled, if they are whole and above nothing."""
    for name, value in settled.items():
        if _of_type(int, value) <= 0:
            raise TypeError(f"{name} is settled as {value}")
    return settled


def _of_type(kind: type[Returned], value: Returned) -> Returned:
    """Return what a plugin returned, if it is what it promised to be."""
    if not isinstance(value, kind):
        raise TypeError(f"{type(value).__name__} returned, not {kind.__name__}")
    return value


def _judgement(returned: Judgement) -> Judgement:
    """Return a judgement of which every margin can be kept: whole nanometres or a number."""
    for name, margin in _of_type(Judgement, returned).margins.items():
        is_number = isinstance(margin, Decimal) and margin.is_finite()
        if not is_number and type(margin) is not int:
            raise TypeError(
                f"margin {name} is {margin!r}: whole nanometres or a Decimal are wanted"
            )
    return returned


def dump_result(outputs: Sequence[Output], result: Mapping[str, object]) -> dict[str, object]:
    """Return a result as JSON shows it. Raises TypeError where it is not what was declared."""
    unknown = set(result) - {output.name for output in outputs}
    if unknown:
        raise TypeError(f"result members that were not declared: {', '.join(sorted(unknown))}")
    dumped: dict[str, object] = {}
    for output in outputs:
        if output.name not in result:
            raise TypeError(f"the result lacks {output.name!r}")
        dumped[output.name] = _dump_output(output, result[output.name])
    return dumped


def _dump_output(output: Output, value: object) -> object:
    if value is None:
        if not output.nullable:
            raise TypeError(f"{output.name} is null")
        return None
    if output.many:
        if not isinstance(value, Sequence) or isinstance(value, str):
            raise TypeError(f"{output.name} is not a list")
        return [_dump_one(output, item) for item in value]
    return _dump_one(output, value)


def _dump_one(output: Output, value: object) -> object:
    match output.type:
        case OutputType.GROUP if isinstance(value, Mapping):
            return dump_result(output.members, value)
        case OutputType.FLAG if isinstance(value, bool):
            return value
        case OutputType.TEXT if isinstance(value, str):
            if output.choices and value not in output.choices:
                raise TypeError(f"{output.name} is {value!r}, not one of {output.choices}")
            return str(value)
        case OutputType.INTEGER if isinstance(value, int) and not isinstance(value, bool):
            return value
        case OutputType.LENGTH if isinstance(value, int) and not isinstance(value, bool):
            return millimetres(value)
        case OutputType.NUMBER if isinstance(
            value, int | float | Decimal | Fraction
        ) and not isinstance(value, bool):
            number = float(value)
            return int(number) if number.is_integer() else number
    raise TypeError(f"{output.name} is a {type(value).__name__}, not a {output.type}")
