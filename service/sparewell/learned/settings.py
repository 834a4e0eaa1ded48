"""The number of the trade that says when a workshop's own figures speak against another."""

from __future__ import annotations

from sparewell.extend.setting_builders import percent_setting

EXPECTED_FAILURES = percent_setting(
    "learned.expected_failures",
    "share of what is fitted by a sound rule that may fail all the same",
    "10",
    help_text="a setting is questioned where surely more than this failed of what it calls good, "
    "or surely less of what it warns of",
    most="100",
)
SETTINGS = (EXPECTED_FAILURES,)
