"""Until when stored rubber should be fitted: dates, schemes, what has no rule, what is refused."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparewell.extend.calculation import dump_result
from sparewell.plugin import ImpossibleInput, Inputs
from sparewell_rubber.calculator import SHELF_LIFE_CALCULATOR, compute
from sparewell_rubber.plugin import ageing_rules
from sparewell_rubber.rules import RULES, Scheme


@pytest.mark.parametrize("scheme", list(Scheme))
@pytest.mark.parametrize("material", ["latex", "nbr", "silicone", "epdm", "fkm", "pvc", "cork"])
@pytest.mark.parametrize("made_on", ["2026-03-01", "2019-Q2", "1950", "unknown"])
def test_result_is_what_the_outputs_declare(answer_of, scheme, material, made_on) -> None:
    """Every member is declared, the scheme is the one asked, and all speak of storage only."""
    answer = answer_of(material=material, made_on=made_on, scheme=scheme.value)
    result = dump_result(SHELF_LIFE_CALCULATOR.outputs, answer.result)
    assert result["scheme"] == scheme.value
    assert result["has_rule"] == (f"{scheme.value}_{material}" in RULES)
    assert any("not of life in a pen" in note for note in result["notes"])
    is_rubber = material not in {"pvc", "cork"}
    assert any("Thin walls age faster" in note for note in result["notes"]) == is_rubber


@pytest.mark.parametrize(
    ("made_on", "fit_by", "extended_to"),
    [
        ("2024-02-29", "2029-02-28", "2031-02-28"),
        ("2024-02", "2029-02-01", "2031-02-01"),
        ("2Q2024", "2029-04-01", "2031-04-01"),
        ("2024", "2029-01-01", "2031-01-01"),
    ],
)
def test_it_is_counted_from_the_first_day_it_may_mean(
    answer_of, made_on, fit_by, extended_to
) -> None:
    """A day, a month, a quarter and a year each count from their earliest day."""
    result = answer_of(material="latex", made_on=made_on, scheme="iso2230").result
    assert (result["fit_by"], result["extended_to"]) == (fit_by, extended_to)
    assert result["counted_from"] == "made_on"
    assert result["state"] == "in_date"
    assert result["over_age"] is False


@pytest.mark.parametrize(
    ("today", "state", "over_age", "days_left"),
    [
        (date(2025, 3, 1), "in_date", False, 0),
        (date(2025, 3, 2), "inspect", True, -1),
        (date(2027, 3, 1), "inspect", True, -730),
        (date(2027, 3, 2), "over_age", True, -731),
    ],
)
def test_the_last_day_is_still_in_date(answer_of, today, state, over_age, days_left) -> None:
    """On the last day it may be fitted; then only after an inspection; then not at all."""
    answer = answer_of(material="latex", made_on="2020-03-01", scheme="iso2230", today=today)
    result = answer.result
    assert (result["state"], result["over_age"], result["days_left"]) == (
        state,
        over_age,
        days_left,
    )
    assert bool(answer.warnings) == (state != "in_date")


def test_unlimited_is_no_date_and_not_over_age(answer_of) -> None:
    """Silicone of 1950 is not limited by ARP5316, which is said; nothing is extended."""
    result = answer_of(material="silicone", made_on="1950", scheme="arp5316").result
    assert (result["fit_by"], result["extended_to"], result["years"]) == (None, None, None)
    assert (result["state"], result["over_age"], result["has_rule"]) == (
        "not_limited",
        False,
        True,
    )
    assert any("does not limit" in note for note in result["notes"])


@pytest.mark.parametrize(
    ("material", "scheme", "others"),
    [
        ("cork", "iso2230", ""),
        ("pvc", "iso2230", "workshop"),
        ("latex", "arp5316", "iso2230, workshop"),
        ("unobtainium", "workshop", ""),
    ],
)
def test_no_rule_says_so_and_borrows_none(answer_of, material, scheme, others) -> None:
    """Without a rule there is no date of any scheme, and those that have one are only named."""
    answer = answer_of(material=material, made_on="2020", scheme=scheme)
    result = answer.result
    assert (result["state"], result["fit_by"], result["years"]) == ("no_rule", None, None)
    assert result["over_age"] is None
    assert f"has no rule for {material}" in result["notes"][0]
    named = [note for note in result["notes"] if "has one: ask by that scheme" in note]
    assert [note.split(" has one")[0] for note in named] == ([others] if others else [])
    assert any("No rule" in warning for warning in answer.warnings)


def test_unknown_dates_count_from_receipt_and_say_so(answer_of) -> None:
    """Without a making date the day of receipt is counted from; with neither there is no date."""
    received = answer_of(material="latex", made_on="unknown", received_on="2025-06-10").result
    assert (received["fit_by"], received["counted_from"]) == ("2030-06-10", "received_on")
    assert any("may be older" in note for note in received["notes"])
    nothing = answer_of(material="latex")
    assert nothing.result["state"] == "unknown_date"
    assert (nothing.result["fit_by"], nothing.result["over_age"]) == (None, None)
    assert any("no date can be given" in warning for warning in nothing.warnings)


def test_made_on_goes_before_received_on(answer_of) -> None:
    """Where both are known the making date counts."""
    result = answer_of(material="nbr", made_on="2020-01-15", received_on="2025").result
    assert (result["fit_by"], result["counted_from"]) == ("2035-01-15", "made_on")


@pytest.mark.parametrize(
    ("values", "name"),
    [
        ({"made_on": "2026-11-26"}, "made_on"),
        ({"made_on": "2026-12"}, "made_on"),
        ({"made_on": "2027-Q1"}, "made_on"),
        ({"made_on": "2027"}, "made_on"),
        ({"received_on": "2026-11-26"}, "received_on"),
        ({"made_on": "2025-06", "received_on": "2025-05-31"}, "received_on"),
        ({"made_on": "3/94"}, "made_on"),
        ({"made_on": "2026-13-01"}, "made_on"),
        ({"made_on": "1492"}, "made_on"),
        ({"made_on": "yesterday"}, "made_on"),
    ],
)
def test_a_date_to_come_and_no_date_are_refused(answer_of, values, name) -> None:
    """A day to come, a crossed pair, and what is no date are refused at their input."""
    with pytest.raises(ImpossibleInput) as refusal:
        answer_of(material="latex", **values)
    assert refusal.value.problems[0][0] == name


def test_received_in_the_year_it_was_made_is_no_contradiction(answer_of) -> None:
    """A year of receipt that began before the day of making may still have been after it."""
    result = answer_of(material="latex", made_on="2025-06", received_on="2025").result
    assert result["counted_from_day"] == "2025-06-01"


@pytest.mark.parametrize("made_on", ["2026-11-25", "2026-11", "2026-Q4", "2026"])
def test_today_is_not_to_come(answer_of, made_on) -> None:
    """What may have been made today is accepted."""
    assert answer_of(material="latex", made_on=made_on).result["state"] == "in_date"


@pytest.mark.parametrize(
    ("written", "known"),
    [("Nitrile", "nbr"), (" natural  rubber ", "latex"), ("VMQ", "silicone"), ("FPM", "fkm")],
)
def test_other_words_for_a_material_are_known(answer_of, written, known) -> None:
    """What stands on packets leads to the same rule, in any case of letters."""
    result = answer_of(material=written, made_on="2026", scheme="iso2230").result
    assert result["material"] == known
    assert result["has_rule"] is True


def test_without_a_scheme_the_stock_is_asked(inputs_of) -> None:
    """The core's own setting decides, so that the answer and the lots in stock agree."""
    inputs = inputs_of(material="nbr", made_on="2020-01-01")
    assert compute(inputs).result["fit_by"] == "2035-01-01"
    assert "stock.ageing_scheme" in inputs.settings_read
    changed = {"stock.ageing_scheme": "iso2230"}
    by_iso = inputs_of(material="nbr", made_on="2020-01-01", changed_settings=changed)
    assert compute(by_iso).result["fit_by"] == "2027-01-01"


def test_rules_are_named_for_their_scheme_and_material() -> None:
    """The hook returns the table itself, each rule under the name by which lots find it."""
    rules = list(ageing_rules())
    assert [rule.name for rule in rules] == [f"{rule.scheme}_{rule.material}" for rule in rules]
    assert {rule.name: rule for rule in rules} == RULES
    assert {rule.scheme for rule in rules} == {scheme.value for scheme in Scheme}
    for rule in rules:
        assert rule.source
        assert (rule.extension_years is not None) == (rule.scheme == "iso2230")
        assert rule.years is None or rule.years > 0


@given(
    st.dates(date(1880, 1, 1), date(2026, 11, 25)),
    st.dates(date(1880, 1, 1), date(2026, 11, 25)),
    st.sampled_from([rule for rule in RULES.values() if rule.years is not None]),
)
def test_later_made_is_never_fitted_by_earlier(one, other, rule) -> None:
    """The last day follows the making date, and an extension never comes before it."""

    def asked(made_on: date) -> dict[str, str]:
        values = {"material": rule.material, "made_on": made_on.isoformat(), "scheme": rule.scheme}
        inputs = Inputs(values, spreads={}, settings={}, today=date(2026, 11, 25))
        return dict(compute(inputs).result)

    early, late = asked(min(one, other)), asked(max(one, other))
    assert early["fit_by"] <= late["fit_by"]
    if rule.extension_years is not None:
        assert early["fit_by"] < early["extended_to"]
    years = int(early["fit_by"][:4]) - min(one, other).year
    assert years == rule.years
