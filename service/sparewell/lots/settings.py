"""The number of the trade that lots rest on: how long rubber keeps."""

from __future__ import annotations

from sparewell.extend.fields import FieldType, Setting

AGEING_SCHEME = Setting(
    name="stock.ageing_scheme",
    title="scheme that dates stored rubber",
    type=FieldType.CHOICE,
    choices=("workshop", "iso2230", "arp5316"),
    default="workshop",
    source="the workshop's choice: the schemes are not comparable year for year",
    help="every fit_by date comes from this scheme alone",
)
SETTINGS = (AGEING_SCHEME,)
