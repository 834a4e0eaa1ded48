"""Which springs in hand would replace the old one: the box to search in, and the verdict on each.

Like for like comes first. After it come springs that press about as hard, that go over the rod and
into the bore, reach their seats, and are not solid at the working length. A piece whose coils were
not counted is taken to have as many as the old one, and that is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final

from sparewell.plugin import (
    NANOMETRES_PER_MILLIMETRE,
    Envelope,
    Inputs,
    Judgement,
    Piece,
    Purchase,
    Range,
    Verdict,
    millimetres_text,
    number_text,
    percent_text,
    rounded,
    worked_out_once,
)
from sparewell_springs.band import rate_of
from sparewell_springs.ends import ENDS
from sparewell_springs.kinds import SPRING
from sparewell_springs.materials import WIRE_OF_METAL, WIRES
from sparewell_springs.mechanics import rate
from sparewell_springs.readings import Spring, spring_of
from sparewell_springs.wording import significant_text

_CARBON_STEELS: Final = ("music_wire", "hard_drawn", "oil_tempered")
_TEN_PERCENT: Final = 10


@dataclass(frozen=True)
class KnownSpring:
    """One piece as it is judged; nanometres. `press_percent` compares it with the old spring."""

    outside_nanometres: int
    inside_nanometres: int | None
    wire_nanometres: int | None
    free_nanometres: int | None
    modulus_known: bool
    press_percent: Fraction | None
    press_words: str
    solid_nanometres: Fraction | None
    total_coils: Fraction
    coils_counted: bool


def envelope(inputs: Inputs) -> Envelope:
    """Return the box to search in, and what to buy where nothing is in hand."""
    spring = spring_of(inputs)
    band = inputs.setting_length("spring.search_band")
    high = spring.outside_nanometres + band
    bore, rod = inputs.length("bore_diameter"), inputs.length("rod_diameter")
    if bore is not None:
        high = min(high, bore)
    low = max(1, spring.outside_nanometres - band)
    if rod is not None:
        low = max(low, rod)
    low = min(low, high)
    return Envelope(
        kind=SPRING,
        ideal=min(max(spring.outside_nanometres, low), high),
        ranges={"outside_diameter": Range(low=low, high=high)},
        to_buy=(_purchase(spring),),
    )


def judge(inputs: Inputs, piece: Piece) -> Judgement:
    """Return the verdict on one piece; the first sentences of `why` are the reasons against."""
    if piece.kind != SPRING:
        return Judgement(Verdict.REFUSED, f"a {piece.kind} is not a coil spring")
    spring = spring_of(inputs)
    outside = piece.dimensions.get("outside_diameter")
    if outside is None:
        return Judgement(Verdict.REFUSED, "no outside diameter is known: measure the bag")
    known = _known(inputs, spring, piece, outside)
    if known is None:
        return Judgement(
            Verdict.REFUSED,
            "wire, diameters and coils do not go together: measure the bag again",
        )
    margins = _margins(inputs, spring, known)
    against = _against(inputs, known, margins)
    if against:
        return Judgement(Verdict.REFUSED, "; ".join(against), margins)
    doubts = _doubts(spring, known)
    tight = _tight(inputs, margins)
    verdict, press_words = _press(inputs, known)
    is_like = _is_like(inputs, spring, known)
    if is_like and verdict in {Verdict.TIGHT, Verdict.LOOSE}:
        verdict = Verdict.FITS
    if tight:
        verdict = Verdict.TIGHT
    elif doubts and verdict is Verdict.FITS:
        verdict = Verdict.TRY_IN
    words = [*(("like for like",) if is_like else ()), *tight, press_words, *doubts]
    return Judgement(
        verdict,
        "; ".join(word for word in words if word),
        margins,
        0 if is_like else 1 + _tens_off(known),
    )


def _known(inputs: Inputs, spring: Spring, piece: Piece, outside: int) -> KnownSpring | None:
    """Return what is known of the piece, or None where its measures contradict each other."""
    inside, wire = piece.dimensions.get("inside_diameter"), piece.dimensions.get("wire_diameter")
    if wire is None and inside is not None:
        wire = (outside - inside) // 2
    if inside is None and wire is not None:
        inside = outside - 2 * wire
    if (inside is not None and inside <= 0) or (wire is not None and wire <= 0):
        return None
    if wire is not None and outside - wire <= wire:
        return None
    free = piece.dimensions.get("length")
    modulus, modulus_known = _modulus_of(spring, piece, wire)
    press = solid = None
    press_words = ""
    counted = piece.attributes.get("total_coils")
    total = spring.total_coils if counted is None else Fraction(str(counted))
    end = ENDS.get(str(piece.attributes.get("ends")), spring.end)
    active = spring.active_coils if counted is None else total - end.dead
    if active <= 0:
        return None
    if wire is not None:
        press, press_words = _compared(inputs, spring, outside, wire, free, modulus, active)
        solid = end.solid_nanometres(wire, total)
    return KnownSpring(
        outside_nanometres=outside,
        inside_nanometres=inside,
        wire_nanometres=wire,
        free_nanometres=free,
        modulus_known=modulus_known,
        press_percent=press,
        press_words=press_words,
        solid_nanometres=solid,
        total_coils=total,
        coils_counted=counted is not None,
    )


def _modulus_of(spring: Spring, piece: Piece, wire: int | None) -> tuple[Fraction, bool]:
    """Return the shear modulus of the piece; unknown, it is taken for the old spring's."""
    name = WIRE_OF_METAL.get((piece.material or "").strip().lower())
    if name is None or wire is None:
        return spring.shear_modulus_gpa, False
    same = name == spring.material.name
    if same or (name == "music_wire" and spring.material.name in _CARBON_STEELS):
        return spring.shear_modulus_gpa, True
    return WIRES[name].shear_modulus_gpa(wire), True


@worked_out_once
def _old_rate(inputs: Inputs) -> Fraction:
    return rate_of(spring_of(inputs))


def _compared(
    inputs: Inputs,
    spring: Spring,
    outside: int,
    wire: int,
    free: int | None,
    modulus: Fraction,
    active_coils: Fraction,
) -> tuple[Fraction | None, str]:
    """Return how much harder the piece presses than the old spring, in percent, and of what.

    At the working length where both free lengths are known, else by the rates alone.
    """
    own = rate(
        wire=Fraction(wire, NANOMETRES_PER_MILLIMETRE),
        mean=Fraction(outside - wire, NANOMETRES_PER_MILLIMETRE),
        active_coils=active_coils,
        shear_modulus_gpa=modulus,
    )
    old = _old_rate(inputs)
    working = inputs.length("working_length")
    old_free = spring.free_nanometres
    if working is not None and free is not None and old_free is not None and old_free > working:
        own, old = own * (free - working), old * (old_free - working)
        return 100 * (own / old - 1), f"at {millimetres_text(working)}"
    return 100 * (own / old - 1), "by its rate"


def _margins(inputs: Inputs, spring: Spring, known: KnownSpring) -> dict[str, int | Decimal]:
    """Return the room left in every direction; less than nothing is in the way."""
    margins: dict[str, int | Decimal] = {}
    rod, bore = inputs.length("rod_diameter"), inputs.length("bore_diameter")
    working = inputs.length("working_length")
    if bore is not None:
        margins["bore"] = bore - known.outside_nanometres
    if rod is not None and known.inside_nanometres is not None:
        margins["rod"] = known.inside_nanometres - rod
    elif rod is not None and known.outside_nanometres <= rod:
        margins["rod"] = known.outside_nanometres - rod  # whatever its wire is
    if known.free_nanometres is not None:
        seats = inputs.length("installed_length") or working
        if seats is not None:
            margins["seats"] = known.free_nanometres - seats
        if spring.free_nanometres is not None:
            margins["length"] = known.free_nanometres - spring.free_nanometres
    if working is not None and known.solid_nanometres is not None:
        margins["solid"] = int(working - known.solid_nanometres)
    if known.press_percent is not None:
        margins["press_percent"] = rounded(known.press_percent, 1)
    return margins


def _against(inputs: Inputs, known: KnownSpring, margins: dict[str, int | Decimal]) -> list[str]:
    """Return every reason to refuse the piece."""
    reasons = []
    if margins.get("bore", 1) <= 0:
        reasons.append(f"{millimetres_text(known.outside_nanometres)} does not go into the bore")
    if margins.get("rod", 1) <= 0:
        inside = known.inside_nanometres
        words = (
            f"{millimetres_text(known.outside_nanometres)} outside"
            if inside is None
            else f"{millimetres_text(inside)} inside"
        )
        reasons.append(f"{words} does not go over the rod")
    if margins.get("seats", 1) <= 0:
        reasons.append("it is too short to reach its seats with any force")
    if margins.get("solid", 0) < 0:
        coils = number_text(known.total_coils, 2)
        assumed = "" if known.coils_counted else ", as many as the old one,"
        reasons.append(
            f"with {coils} coils{assumed} it would be solid at "
            f"{millimetres_text(known.solid_nanometres or 0)}, before the working length"
            + ("" if known.coils_counted else "; count its coils")
        )
    most = inputs.setting_number("spring.force_most")
    if known.press_percent is not None and abs(known.press_percent) > most:
        reasons.append(_press_text(known))
    return reasons


def _tight(inputs: Inputs, margins: dict[str, int | Decimal]) -> list[str]:
    """Return where there is less room than there should be."""
    close = []
    bore, rod = margins.get("bore"), margins.get("rod")
    if bore is not None and bore < inputs.setting_length("spring.bore_clearance"):
        close.append("close in the bore, and it grows wider as it is pressed")
    if rod is not None and rod < inputs.setting_length("spring.rod_clearance"):
        close.append("close on the rod")
    return close


def _press(inputs: Inputs, known: KnownSpring) -> tuple[Verdict, str]:
    """Return the verdict on how hard it presses."""
    percent = known.press_percent
    if percent is None:
        return Verdict.FITS, ""
    good = inputs.setting_number("spring.force_good")
    if percent > good:
        return Verdict.TIGHT, _press_text(known)
    if percent < -good:
        return Verdict.LOOSE, _press_text(known)
    return Verdict.FITS, _press_text(known)


def _press_text(known: KnownSpring) -> str:
    """Return how hard it presses, in words."""
    percent = known.press_percent or Fraction(0)
    if round(percent * 10) == 0:
        return f"it presses as hard as the old one {known.press_words}"
    word = "harder" if percent > 0 else "less"
    return f"it presses {percent_text(abs(percent))} {word} than the old one {known.press_words}"


def _doubts(spring: Spring, known: KnownSpring) -> list[str]:
    """Return what makes a fitting piece one to try in first."""
    doubts = []
    if known.wire_nanometres is None:
        doubts.append("its wire is not known: the force goes with its fourth power, measure it")
    elif not known.modulus_known:
        doubts.append("its material is not known: taken for that of the old spring")
    if known.free_nanometres is None:
        doubts.append("its free length is not known")
    elif spring.free_nanometres is None:
        doubts.append("the free length of the old spring was not given")
    return doubts


def _is_like(inputs: Inputs, spring: Spring, known: KnownSpring) -> bool:
    """Return whether it is the like of the old spring, within what a reading may be off."""
    if known.wire_nanometres is None or not known.modulus_known:
        return False
    off = abs(known.outside_nanometres - spring.outside_nanometres)
    if off > inputs.setting_length("spring.like_diameter"):
        return False
    off = abs(known.wire_nanometres - spring.wire_nanometres)
    if off > inputs.setting_length("spring.like_wire"):
        return False
    if known.free_nanometres is None or spring.free_nanometres is None:
        return False
    if known.total_coils != spring.total_coils:
        return False
    allowed = spring.free_nanometres * inputs.setting_number("spring.like_length") / 100
    return abs(known.free_nanometres - spring.free_nanometres) <= allowed


def _tens_off(known: KnownSpring) -> int:
    """Return how far off the force is, in tens of percent; unknown is far."""
    if known.press_percent is None:
        return 10
    return int(abs(known.press_percent) // _TEN_PERCENT)


def _purchase(spring: Spring) -> Purchase:
    """Return the spring to ask for."""
    free = ""
    if spring.free_nanometres is not None:
        free = f", {millimetres_text(spring.free_nanometres)} free"
    return Purchase(
        ask_for=(
            f"a compression spring of {spring.material.words}: wire "
            f"{millimetres_text(spring.wire_nanometres)}, "
            f"{millimetres_text(spring.outside_nanometres)} outside{free}, "
            f"{number_text(spring.total_coils, 2)} coils, {spring.end.words} ends"
        ),
        check_on_arrival=(
            "the wire with a micrometer first, then outside, coils and free length; its rate "
            f"should be about {significant_text(rate_of(spring), 3)} N/mm"
        ),
    )
