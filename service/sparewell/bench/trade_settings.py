"""Every number of the trade, with its source; changed with a reason. And what else there is."""

from __future__ import annotations

from typing import Any

from flask import request

from sparewell.bench.asking import Refused, address, ask, change, every
from sparewell.bench.pages import blueprint, see, show
from sparewell.bench.typed import number_or_text, whole_or_text

_FLAG, _INTEGER, _NUMBER = "flag", "integer", "number"


@blueprint.get("/more")
def more_page() -> Any:
    """Show what else there is, and the way out."""
    return show("more.html")


@blueprint.get("/settings")
def settings_page() -> Any:
    """List the numbers of the trade by what uses them."""
    groups: dict[str, list[Any]] = {}
    for setting in every("/v1/settings", "settings"):
        groups.setdefault(setting["name"].split(".")[0], []).append(setting)
    return show("settings.html", groups=groups)


@blueprint.get("/settings/<name>")
def setting_page(name: str) -> Any:
    """Show one number: its value, its source, who changed it and why."""
    return _setting_page(name)


def _setting_page(name: str, refusal: Refused | None = None) -> Any:
    found = ask("GET", address("settings", name))
    page = show(
        "setting.html",
        setting=found.document,
        tag=found.tag,
        refusal=refusal,
        faults=refusal.by_field() if refusal else {},
        typed=request.form,
    )
    return page, refusal.status if refusal else 200


@blueprint.post("/settings/<name>")
def change_setting(name: str) -> Any:
    """Change a number, with the reason."""
    setting = ask("GET", address("settings", name)).document
    text = request.form.get("value", "").strip()
    body = {"value": _value(setting["type"], text), "why": request.form.get("why", "").strip()}
    try:
        change(address("settings", name), body, request.form.get("tag"))
    except Refused as refusal:
        return _setting_page(name, refusal)
    return see(f"/settings/{name}", said="changed")


def _value(of_type: str, text: str) -> Any:
    """Return what was typed as the API takes it; what cannot be read is left for it to refuse."""
    if not text:
        return None
    if of_type == _FLAG:
        return {"yes": True, "no": False}.get(text, text)
    if of_type == _INTEGER:
        return whole_or_text(text)
    return number_or_text(text) if of_type == _NUMBER else text
