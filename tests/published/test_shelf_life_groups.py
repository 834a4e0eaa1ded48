"""Storage periods against the published groups and lists."""

from __future__ import annotations

from datetime import date

import pytest

from sparewell.plugin import Inputs
from sparewell_rubber.calculator import compute
from sparewell_rubber.rules import RULES

# Source: ISO 2230:2002, groups of rubbers: initial and extension storage period in years. NR is
# latex here, VMQ silicone, EPDM stands for EPM.
ISO_2230 = (
    ("A", 5, 2, "latex ir br sbr au eu"),
    ("B", 7, 3, "nbr hnbr cr acm eco iir"),
    ("C", 10, 5, "epdm fkm ffkm silicone fvmq csm"),
)

# Source: MIL-HDBK-695E table I and seal suppliers' summaries of SAE ARP5316: years, None unlimited.
ARP_5316 = (
    (None, "iir epdm fkm fvmq ffkm silicone ptfe"),
    (15, "nbr hnbr cr acm aem"),
    (5, "au eu"),
    (3, "sbr"),
)


def answer(material: str, scheme: str) -> dict[str, object]:
    """Return the result for a piece made on the first day of 2020."""
    values = {"material": material, "made_on": "2020-01-01", "scheme": scheme}
    return dict(compute(Inputs(values, spreads={}, settings={}, today=date(2020, 1, 1))).result)


@pytest.mark.parametrize(("group", "years", "extension", "rubbers"), ISO_2230)
def test_iso_2230_groups(group, years, extension, rubbers) -> None:
    """Each rubber of a group has its initial period, its extension, and the group in its source."""
    for rubber in rubbers.split():
        result = answer(rubber, "iso2230")
        assert result["fit_by"] == f"{2020 + years}-01-01"
        assert result["extended_to"] == f"{2020 + years + extension}-01-01"
        assert f"group {group}" in result["source"]


@pytest.mark.parametrize(("years", "rubbers"), ARP_5316)
def test_arp_5316_list(years, rubbers) -> None:
    """Each rubber keeps as long as printed; unlimited is no date; nothing is extended."""
    for rubber in rubbers.split():
        result = answer(rubber, "arp5316")
        assert result["has_rule"] is True
        assert result["fit_by"] == (None if years is None else f"{2020 + years}-01-01")
        assert result["extended_to"] is None


def test_the_tables_hold_nothing_else() -> None:
    """No material stands in a published scheme that its publication does not list."""
    iso = {rubber for row in ISO_2230 for rubber in row[3].split()}
    arp = {rubber for row in ARP_5316 for rubber in row[1].split()}
    assert {r.material for r in RULES.values() if r.scheme == "iso2230"} == iso
    assert {r.material for r in RULES.values() if r.scheme == "arp5316"} == arp


@pytest.mark.parametrize("scheme", ["iso2230", "arp5316"])
@pytest.mark.parametrize("material", ["cork", "pvc"])
def test_what_is_no_rubber_is_outside_both(scheme, material) -> None:
    """Source: the scope of ISO 2230:2002 is rubber; cork and soft PVC have no rule in either."""
    assert answer(material, scheme)["state"] == "no_rule"


def test_natural_rubber_has_no_sure_figure_in_arp_5316() -> None:
    """Source: the summaries of SAE ARP5316 disagree on natural rubber: none is given."""
    assert answer("latex", "arp5316")["state"] == "no_rule"


# Source: ISO 2230:2002 group A and SAE ARP5316, as the workshop takes them; PVC: common practice,
# no source.
@pytest.mark.parametrize(
    ("material", "fit_by"),
    [
        ("latex", "2025-01-01"),
        ("nbr", "2035-01-01"),
        ("epdm", None),
        ("fkm", None),
        ("silicone", None),
        ("pvc", "2030-01-01"),
    ],
)
def test_workshop_scheme(material, fit_by) -> None:
    """The workshop's own scheme is 5 years for latex, 15 for nitrile, 10 for PVC."""
    result = answer(material, "workshop")
    assert (result["has_rule"], result["fit_by"]) == (True, fit_by)
