"""Every number of the trade, with its source; changed with a reason. And what else there is."""

from __future__ import annotations

from functools import partial

from flask import request

from sparewell.bench.pages import Shown, blueprint, or_form_again, refuse_late, see, show
from sparewell.bench.typed import Typed, number_or_text, tag_of, whole_or_text
from sparewell.edge.context import work
from sparewell.edge.errors import checked
from sparewell.extend.fields import FieldType
from sparewell.extend.settings import shown, unit_of
from sparewell.learned.operations import learned
from sparewell.learned.questions import SettingQuestion
from sparewell.settings.operations import (
    SettingState,
    change_setting,
    lock_settings,
    one_setting,
    present_settings,
)
from sparewell.settings.schemas import ChangedSettingSchema


@blueprint.get("/more")
def more_page() -> Shown:
    """Show what else there is, and the way out."""
    return show("more.html")


@blueprint.get("/settings")
def settings_page() -> Shown:
    """List the numbers of the trade by what uses them."""
    groups: dict[str, list[SettingState]] = {}
    for name, state in present_settings(work().session, work().declared).items():
        groups.setdefault(name.split(".")[0], []).append(state)
    return show("settings.html", groups=groups, shown=shown, unit_of=unit_of)


@blueprint.get("/settings/<identifier:name>")
def setting_page(name: str) -> Shown:
    """Show one number: its value, its source, who changed it and why."""
    return _setting_page(name, Typed({}))


def _setting_page(name: str, form: Typed) -> Shown:
    state = one_setting(work().session, work().declared, name)
    page = show(
        "setting.html",
        state=state,
        setting=state.setting,
        value=shown(state.setting, state.value),
        default=shown(state.setting, state.setting.default),
        unit=unit_of(state.setting),
        tag=_tag(state),
        form=form,
        asked=_asked(name),
    )
    return page, form.status


def _asked(name: str) -> list[SettingQuestion]:
    """Return what the workshop's own outcomes speak against a number that they are held against."""
    scales = [scale for each in work().declared.calculators.values() for scale in each.scales]
    if not any(name in {scale.low, scale.high} for scale in scales):
        return []
    return [question for question in learned(work()).questions if question.setting == name]


def _tag(state: SettingState) -> str:
    return tag_of(state.value, state.changed_at, state.why)


@blueprint.post("/settings/<identifier:name>")
def change(name: str) -> Shown:
    """Change a number, with the reason."""
    form, page = Typed(request.form), partial(_setting_page, name)
    lock_settings(work().session)
    state = one_setting(work().session, work().declared, name)
    refuse_late(page, form, _tag(state))
    with or_form_again(page, form):
        said = {"value": _value(state.setting.type, form["value"]), "why": form["why"]}
        body = checked(ChangedSettingSchema(), said)
        change_setting(work(), name, body["value"], body["why"])
    return see(f"/settings/{name}", said="changed")


def _value(of_type: FieldType, text: str) -> object:
    """Return what was typed as the setting takes it; what cannot be read is left to be refused."""
    if not text:
        return None
    match of_type:
        case FieldType.FLAG:
            return {"yes": True, "no": False}.get(text, text)
        case FieldType.INTEGER:
            return whole_or_text(text)
        case FieldType.NUMBER:
            return number_or_text(text)
        case _:
            return text
