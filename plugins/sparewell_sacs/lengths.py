"""What the depth of the barrel leaves for the sac, and where it is cut."""

from __future__ import annotations

from dataclasses import dataclass

from sparewell.plugin import (
    NANOMETRES_PER_MILLIMETRE,
    ImpossibleInput,
    Inputs,
    millimetres_text,
    worked_out_once,
)


@dataclass(frozen=True)
class Lengths:
    """What the depth leaves for the sac; None where a reading is missing."""

    depth_nanometres: int | None
    tenon_nanometres: int | None
    end_gap_nanometres: int
    cut_nanometres: int | None
    at_most_nanometres: int | None

    @property
    def for_volume_nanometres(self) -> int | None:
        """Return the cut length, or the most it can be while the tenon is unknown."""
        return self.at_most_nanometres if self.cut_nanometres is None else self.cut_nanometres


@worked_out_once
def lengths_of(inputs: Inputs) -> Lengths:
    """Return what the depth leaves for the sac, or raise ImpossibleInput."""
    in_guard = inputs.length("guard_bore") is not None
    depth_nanometres = inputs.length("barrel_depth")
    tenon_nanometres = inputs.length("tenon_length")
    gap_nanometres = inputs.length("end_gap")
    if gap_nanometres is None:
        name = "sac.end_gap_guard" if in_guard else "sac.end_gap"
        gap_nanometres = inputs.setting_length(name)
    at_most_nanometres = cut_nanometres = None
    if depth_nanometres is not None:
        at_most_nanometres = depth_nanometres - gap_nanometres
        if tenon_nanometres is not None:
            left_nanometres = at_most_nanometres - tenon_nanometres
            cut_nanometres = left_nanometres - left_nanometres % NANOMETRES_PER_MILLIMETRE
        problem = _problem_of_lengths(
            inputs, depth_nanometres, gap_nanometres, at_most_nanometres, cut_nanometres
        )
        if problem:
            raise ImpossibleInput(problem)
    return Lengths(
        depth_nanometres=depth_nanometres,
        tenon_nanometres=tenon_nanometres,
        end_gap_nanometres=gap_nanometres,
        cut_nanometres=cut_nanometres,
        at_most_nanometres=at_most_nanometres,
    )


def _problem_of_lengths(
    inputs: Inputs,
    depth_nanometres: int,
    gap_nanometres: int,
    at_most_nanometres: int,
    cut_nanometres: int | None,
) -> tuple[str, str] | None:
    """Return the length that leaves nothing for the sac, if there is one."""
    depth_text = millimetres_text(depth_nanometres)
    if at_most_nanometres <= 0:
        name = "end_gap" if "end_gap" in inputs else "barrel_depth"
        gap_text = millimetres_text(gap_nanometres)
        return name, f"A gap of {gap_text} leaves nothing of a depth of {depth_text}."
    if cut_nanometres is None:
        return None
    if cut_nanometres <= 0:
        return (
            "tenon_length",
            f"Tenon and gap leave less than a millimetre of a depth of {depth_text} for a sac.",
        )
    nipple_length_nanometres = inputs.length("nipple_length")
    if nipple_length_nanometres is not None and nipple_length_nanometres >= cut_nanometres:
        return (
            "nipple_length",
            (
                f"A nipple {millimetres_text(nipple_length_nanometres)} long takes up the whole "
                f"{millimetres_text(cut_nanometres)} that are left for the sac."
            ),
        )
    return None
