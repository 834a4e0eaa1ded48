"""The number of the trade that lots rest on: how long rubber keeps."""

from __future__ import annotations

from sparewell.extend.setting_builders import choice_setting

AGEING_SCHEME = choice_setting(
    "stock.ageing_scheme",
    "scheme that dates stored rubber",
    "workshop",
    "the workshop's choice: the schemes are not comparable year for year",
    "every fit_by date comes from this scheme alone",
    choices=("workshop", "iso2230", "arp5316"),
)
SETTINGS = (AGEING_SCHEME,)
