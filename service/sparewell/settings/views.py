"""Plugins and settings over HTTP."""

from __future__ import annotations

from typing import Any

from sparewell.edge.api import Blueprint
from sparewell.edge.context import work
from sparewell.edge.paging import PageArguments, answer, page_of_rows
from sparewell.settings.operations import (
    change_setting,
    lock_settings,
    one_setting,
    present_settings,
)
from sparewell.settings.schemas import (
    ChangedSettingSchema,
    PluginPageSchema,
    SettingPageSchema,
    SettingSchema,
)

blueprint = Blueprint("settings", __name__, url_prefix="/v1", tag="extend")


@blueprint.route("/plugins")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, PluginPageSchema)
def list_plugins(arguments: dict[str, Any]) -> Any:
    """List the plugins that were found, loaded or skipped."""
    return answer("plugins", page_of_rows(work().declared.plugins, arguments))


@blueprint.route("/settings")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, SettingPageSchema)
def list_settings(arguments: dict[str, Any]) -> Any:
    """List the numbers of the trade that this workshop may change."""
    states = list(present_settings(work().session, work().declared).values())
    return answer("settings", page_of_rows(states, arguments))


@blueprint.route("/settings/<identifier:name>")
@blueprint.etag
@blueprint.response(200, SettingSchema)
def get_setting(name: str) -> Any:
    """Return one setting."""
    return one_setting(work().session, work().declared, name)


@blueprint.route("/settings/<identifier:name>", methods=["PATCH"])
@blueprint.arguments(ChangedSettingSchema)
@blueprint.etag
@blueprint.response(200, SettingSchema)
def patch_setting(body: dict[str, Any], name: str) -> Any:
    """Change one setting, with the reason."""
    lock_settings(work().session)
    present = one_setting(work().session, work().declared, name)
    blueprint.check_etag(present, SettingSchema)
    return change_setting(work(), name, body["value"], body["why"])
