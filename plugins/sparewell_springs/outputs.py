"""What the spring's calculator answers, member by member."""

from __future__ import annotations

from typing import Final

from sparewell.plugin import Output, OutputType
from sparewell_springs.ends import ENDS
from sparewell_springs.materials import SET_SOURCES

_LENGTH: Final = OutputType.LENGTH
_NUMBER: Final = OutputType.NUMBER
_TEXT: Final = OutputType.TEXT
_GROUP: Final = OutputType.GROUP
_FLAG: Final = OutputType.FLAG

_RATE: Final = (
    Output("rate_n_per_mm", _NUMBER, "G d^4 / (8 D^3 Na)."),
    Output(
        "rate_band_n_per_mm",
        _GROUP,
        "The least and the most, from how far off the readings may be.",
        members=(
            Output("min", _NUMBER, "The least."),
            Output("max", _NUMBER, "The most; null: the readings leave no coil.", nullable=True),
        ),
    ),
    Output(
        "rate_with_direct_shear_n_per_mm",
        _NUMBER,
        "By the whole strain energy: the rate / (1 + 1 / (2 C^2)).",
    ),
    Output("spring_index", _NUMBER, "C: mean diameter over wire."),
    Output("wahl_factor", _NUMBER, "(4 C - 1) / (4 C - 4) + 0.615 / C."),
    Output("curvature_factor", _NUMBER, "Of recent textbooks: (4 C + 2) / (4 C - 3)."),
    Output("shear_modulus_gpa", _NUMBER, "The shear modulus reckoned with."),
)

_SIZE: Final = (
    Output("wire_diameter", _LENGTH, "The wire."),
    Output("mean_diameter", _LENGTH, "The mean diameter."),
    Output("outside_diameter", _LENGTH, "The outside diameter."),
    Output("inside_diameter", _LENGTH, "The inside diameter."),
    Output("active_coils", _NUMBER, "The coils that move."),
    Output("total_coils", _NUMBER, "All coils."),
    Output("ends", _TEXT, "The ends reckoned with.", choices=tuple(ENDS)),
    Output("material", _TEXT, "The wire reckoned with."),
    Output("solid_length", _LENGTH, "Pressed until every coil touches."),
    Output("free_length", _LENGTH, "As given.", nullable=True),
    Output("pitch", _LENGTH, "Of the free spring, where it is opened.", nullable=True),
    Output("travel", _LENGTH, "From free to solid.", nullable=True),
    Output(
        "buckling_length",
        _LENGTH,
        "Free length from which a steel spring may buckle unless it is guided; null for others.",
        nullable=True,
    ),
)

_FORCES: Final = (
    Output(
        "forces",
        _GROUP,
        "At each length asked about; empty without the free length.",
        many=True,
        members=(
            Output("at", _TEXT, "The input the length comes from."),
            Output("length", _LENGTH, "The length."),
            Output("deflection", _LENGTH, "How far it is pressed."),
            Output("force_n", _NUMBER, "Newtons; null: solid before that.", nullable=True),
            Output("stress_mpa", _NUMBER, "Shear stress, Wahl factor in it.", nullable=True),
            Output(
                "yield_percent", _NUMBER,
                "Of the yield in torsion, by the more cautious set that covers the wire.",
                nullable=True,
            ),
            Output("solid", _FLAG, "Whether the spring is solid before that length."),
        ),
    ),
    Output("force_solid_n", _NUMBER, "Pressed solid.", nullable=True),
    Output("stress_solid_mpa", _NUMBER, "Shear stress pressed solid.", nullable=True),
    Output(
        "strength",
        _GROUP,
        "What the wire bears, by each published set that knows it. The sets are never mixed.",
        many=True,
        members=(
            Output("set", _TEXT, "The set of constants.", choices=tuple(SET_SOURCES)),
            Output("source", _TEXT, "Where it was published."),
            Output("tensile_mpa", _NUMBER, "Tensile strength, A / d^m."),
            Output("yield_shear_mpa", _NUMBER, "Yield in torsion, a share of it by setting."),
            Output("in_range", _FLAG, "Whether the set covers this diameter of wire."),
            Output("force_at_yield_n", _NUMBER, "The force at which it yields."),
            Output(
                "force_at_yield_by_curvature_n", _NUMBER,
                "The same with the curvature factor instead of Wahl's.",
            ),
            Output("longest_free_length", _LENGTH, "Longer than this, pressing it solid sets it."),
            Output(
                "share_at_solid_percent", _NUMBER, "Stress pressed solid, of the yield.",
                nullable=True,
            ),
        ),
    ),
)  # fmt: skip

OUTPUTS: Final = (
    *_RATE,
    *_SIZE,
    *_FORCES,
    Output("working", _TEXT, "Every step with its numbers.", many=True),
)
