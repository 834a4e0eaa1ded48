"""What the plugin declares, as the host reads it."""

from __future__ import annotations

from importlib.resources import files

import pytest

from sparewell.extend.calculation import dump_result
from sparewell.plugin import OutputType
from sparewell_o_rings.calculator import O_RING_CALCULATOR, compute
from sparewell_o_rings.settings import SETTINGS
from sparewell_o_rings.tables import SIZE_TABLES

GLANDS = (
    {"gland": "piston", "bore": "7.6", "groove_diameter": "4.6", "groove_width": "2.4"},
    {"gland": "rod", "bore": "5.9", "rod": "3", "duty": "moving"},
    {"gland": "face", "groove_depth": "1.4", "groove_diameter": "8"},
    {"gland": "piston", "bore": "300", "groove_diameter": "200"},
)


def test_host_knows_everything(declared) -> None:
    """Both calculators, the kind and the four tables are found through the entry point."""
    assert {"o_ring", "ring_identity"} <= declared.calculators.keys()
    assert "o_ring" in declared.kinds
    assert {table.name for table in SIZE_TABLES} == {"as568", "iso3601_1", "jis_b2401_p", "bs4518"}
    assert declared.calculators["o_ring"].fits_pieces
    assert not declared.calculators["ring_identity"].fits_pieces


@pytest.mark.parametrize("gland", GLANDS)
def test_results_are_what_is_declared(inputs_of, gland) -> None:
    """Every member is declared, and every declared one is there."""
    assert dump_result(O_RING_CALCULATOR.outputs, compute(inputs_of(**gland)).result)


@pytest.mark.parametrize("table", SIZE_TABLES, ids=lambda table: table.name)
def test_every_row_has_just_its_columns(table) -> None:
    """A table's rows are what its columns declare, lengths in nanometres."""
    for row in table.rows:
        assert dump_result(table.columns, row)
        lengths = [row[column.name] for column in table.columns if column.type is OutputType.LENGTH]
        assert all(length is None or length > 0 for length in lengths)


def test_every_setting_is_used(inputs_of) -> None:
    """Each setting is read by one of the glands, or by the search and the verdict on pieces."""
    read: set[str] = set()
    for gland in (
        *GLANDS,
        {"gland": "piston", "bore": "7.6", "groove_diameter": "4.6", "duty": "moving"},
    ):
        inputs = inputs_of(**gland)
        compute(inputs)
        O_RING_CALCULATOR.envelope(inputs)
        read |= inputs.settings_read.keys()
    unread = {setting.name for setting in SETTINGS} - read
    assert unread == {"o_ring.refuse_unsuitable_material"}  # read by judge alone


def test_data_files_name_no_counts_of_sources() -> None:
    """The tables carry figures only."""
    for data in files("sparewell_o_rings").joinpath("data").iterdir():
        header = data.read_text(encoding="utf-8").splitlines()[0]
        assert "source" not in header
