"""The out-of-tree plugin, installed from its own wheel beside ours in a fresh environment.

First everything that declaring one calculator, one kind and one table gives; then what is left
when the plugin is taken away. The fixtures of `conftest.py` build and install once.
"""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from typing import Any

import pytest
import urllib3

pytestmark = [pytest.mark.packaging, pytest.mark.rest]

READINGS = {"hole_diameter": "1.60 mm", "pin_diameter": "1.00 mm", "wall_thickness": 2.4}
SIZE = ("size", "bushing", "--hole-diameter", "1.60 mm", "--pin-diameter", "1.00 mm")


def tables_in(installation: Any) -> set[str]:
    """Return the names of the tables in an installation's database."""
    with closing(sqlite3.connect(installation.database_file)) as connection:
        rows = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
    return {name for (name,) in rows}


def resolved(document: dict[str, Any], schema: dict[str, Any]) -> dict[str, Any]:
    """Follow a reference within the document."""
    while "$ref" in schema:
        target: Any = document
        for step in schema["$ref"].removeprefix("#/").split("/"):
            target = target[step]
        schema = target
    return schema


def test_plugin_is_listed_as_loaded(installation: Any) -> None:
    """`sparewell plugins --json` names the plugin, its distribution and its hooks."""
    listed = json.loads(installation.run("plugins", "--json"))["plugins"]
    found = {plugin["name"]: plugin for plugin in listed}
    assert found["bushings"] == {
        "name": "bushings",
        "distribution": "sparewell-bushings",
        "version": "1.0.0",
        "state": "loaded",
        "hooks": ["calculators", "part_kinds", "tables"],
    }
    assert found["sacs"]["distribution"] == "sparewell"


def test_plugin_can_be_skipped_by_name(installation: Any) -> None:
    """SPAREWELL_SKIP_PLUGINS leaves the plugin alone and says so."""
    said = installation.run("plugins", "--json", SPAREWELL_SKIP_PLUGINS="bushings")
    states = {plugin["name"]: plugin["state"] for plugin in json.loads(said)["plugins"]}
    assert states["bushings"] == "skipped"
    assert states["sacs"] == "loaded"


def test_migrate_brings_the_plugins_lineage_up(installation: Any, migration_output: str) -> None:
    """`sparewell migrate` makes the core's tables and the plugin's, each with its own version."""
    assert "core: from nothing to " in migration_output
    assert "bushings: from nothing to 0001" in migration_output
    assert {
        "lot",
        "alembic_version_core",
        "bushings_turning",
        "alembic_version_bushings",
    } <= tables_in(installation)
    assert "bushings: current, at 0001" in installation.run("migrate", "--check")


def test_calculator_has_an_endpoint(server: Any) -> None:
    """One declaration gives an endpoint that answers with result, settings, sources, drawing."""
    answer = server.post("/v1/calculators/bushing", READINGS)
    assert answer["result"] == {
        "outside_diameter": 1.62,
        "inside_diameter": 1.03,
        "length": 2.4,
        "wall": 0.295,
        "working": ["outside: hole + 0.02 mm = 1.62 mm", "inside: pin + 0.03 mm = 1.03 mm"],
    }
    assert [setting["name"] for setting in answer["settings"]] == [
        "bushing.least_wall",
        "bushing.press",
        "bushing.running_clearance",
    ]
    assert answer["sources"] == ["common practice, no source"]
    assert answer["drawing"].startswith("<svg")
    assert 'class="bush"' in answer["drawing"]
    assert 'r="0.81"' in answer["drawing"]


def test_calculator_points_at_impossible_readings(server: Any) -> None:
    """Readings that leave no bush are refused with a pointer to the one at fault."""
    reply = server.call("POST", "/v1/calculators/bushing", {**READINGS, "pin_diameter": "1.6 mm"})
    assert reply.status == 422
    assert reply.body["errors"][0]["pointer"] == "/pin_diameter"


def test_document_has_the_calculators_path_and_schemas(server: Any) -> None:
    """The OpenAPI document has the endpoint with its inputs and its result."""
    document = server.get("/openapi.json")
    operation = document["paths"]["/v1/calculators/bushing"]["post"]
    body = operation["requestBody"]["content"]["application/json"]["schema"]
    asked = resolved(document, body)
    assert set(asked["properties"]) == set(READINGS)
    assert set(asked["required"]) == set(READINGS)
    shown = operation["responses"]["200"]["content"]["application/json"]["schema"]
    result = resolved(document, resolved(document, shown)["properties"]["result"])
    assert set(result["properties"]) == {
        "outside_diameter",
        "inside_diameter",
        "length",
        "wall",
        "working",
    }
    assert "/v1/fits/bushing" in document["paths"]


def test_calculator_has_a_page_on_the_bench(server: Any) -> None:
    """The page asks for the plugin's readings, and shows its answer, drawing and working."""
    with urllib3.PoolManager() as pool:
        form = {"token": server.token, "person": "", "to": "/measure"}
        entered = pool.request_encode_body(
            "POST", f"{server.url}/sign-in", form, encode_multipart=False, redirect=False
        )
        signed_in = {"Cookie": entered.headers["Set-Cookie"].partition(";")[0]}
        first = pool.request("GET", f"{server.url}/measure", headers=signed_in)
        assert 'href="/measure/bushing"' in first.data.decode()
        page = pool.request(
            "GET", f"{server.url}/measure/bushing", fields=READINGS, headers=signed_in
        ).data.decode()
    for name in READINGS:
        assert f'name="{name}"' in page
    assert "<b>1.62 mm</b>" in page
    assert 'class="bush"' in page
    assert "outside: hole + 0.02 mm = 1.62 mm" in page


def test_kind_and_settings_are_listed(server: Any) -> None:
    """The plugin's kind and its settings stand among everybody's, with the plugin's name."""
    kinds = {kind["name"]: kind for kind in server.get("/v1/kinds")["kinds"]}
    assert kinds["bushing"]["plugin"] == "bushings"
    assert kinds["bushing"]["led_by"] == "outside_diameter"
    settings = {setting["name"]: setting for setting in server.get("/v1/settings")["settings"]}
    assert settings["bushing.press"]["value"] == 0.02
    assert settings["bushing.press"]["source"] == "common practice, no source"


def test_lot_of_the_kind_is_stored_and_found_by_dimension(
    server: Any, bush_lot: dict[str, Any]
) -> None:
    """A lot of the plugin's kind is found by a range, and missed outside it."""
    assert bush_lot["kind"] == "bushing"
    query = "/v1/lots?kind=bushing&outside_diameter_min=1.62mm&outside_diameter_max="
    assert [lot["id"] for lot in server.get(f"{query}1.63mm")["lots"]] == [bush_lot["id"]]
    assert server.get(f"{query}1.621mm")["lots"] == []


def test_calculator_chooses_among_pieces_in_hand(server: Any, bush_lot: dict[str, Any]) -> None:
    """A fit finds the lot and says how it fits, with the margins of the plugin's judge."""
    found = server.post("/v1/fits/bushing", READINGS)
    (candidate,) = found["candidates"]
    assert (candidate["lot"], candidate["verdict"]) == (bush_lot["id"], "fits")
    assert candidate["margins"] == {"press": 0.025, "clearance": 0.04}
    assert found["to_buy"] == []


def test_calculator_has_a_command(installation: Any, server: Any) -> None:
    """`sparewell size bushing` asks the server and prints the answer."""
    access = {"SPAREWELL_URL": server.url, "SPAREWELL_TOKEN": server.token}
    said = installation.run(*SIZE, "--wall-thickness", "2.4", **access)
    assert "1.62" in said
    assert "1.03" in said
    as_json = json.loads(installation.run(*SIZE, "--wall-thickness", "2.4", "--json", **access))
    assert as_json["result"]["outside_diameter"] == 1.62


def test_command_lists_its_options(installation: Any, server: Any) -> None:
    """`--help` names the calculator, and each input as an option with how to take the reading."""
    access = {"SPAREWELL_URL": server.url, "SPAREWELL_TOKEN": server.token}
    assert "bushing" in installation.run("size", "--help", **access)
    said = installation.run("size", "bushing", "--help", **access)
    for option in ("--hole-diameter", "--pin-diameter", "--wall-thickness"):
        assert option in said
    assert "largest drill shank" in said


def test_absent_plugin_is_not_listed(installation_without_plugin: Any) -> None:
    """After the plugin is uninstalled only the bundled ones are there."""
    said = installation_without_plugin.run("plugins", "--json")
    assert {plugin["distribution"] for plugin in json.loads(said)["plugins"]} == {"sparewell"}


def test_leftover_tables_are_named_and_migrate_goes_on(installation_without_plugin: Any) -> None:
    """Migrate names the absent plugin's tables, leaves them alone and ends well."""
    said = installation_without_plugin.run("migrate")
    assert "bushings: left alone" in said
    assert "core: already at " in said
    with closing(sqlite3.connect(installation_without_plugin.database_file)) as connection:
        rows = connection.execute("SELECT stock FROM bushings_turning").fetchall()
    assert rows == [("3 mm brass bar",)]


def test_absent_plugins_rows_stay_readable_and_movable(
    server_without_plugin: Any, bush_lot: dict[str, Any]
) -> None:
    """A lot of the absent plugin's kind is shown, found, moved and counted as before."""
    server, path = server_without_plugin, f"/v1/lots/{bush_lot['id']}"
    lot = server.get(path)
    assert (lot["kind"], lot["place"], lot["in_hand"]) == ("bushing", "A3", 5)
    assert lot["measured"] == {"outside_diameter": 1.625, "inside_diameter": 1.04}
    assert server.get("/v1/parts/BUSH-16")["kind"] == "bushing"
    assert server.post(f"{path}/move", {"drawer": "B1"})["place"] == "B1"
    assert server.post(f"{path}/count", {"counted": 4})["in_hand"] == 4
    found = server.get("/v1/lots?kind=bushing&outside_diameter_min=1.62mm")["lots"]
    assert [each["place"] for each in found] == ["B1"]


def test_absent_plugins_endpoints_are_gone_and_the_rest_goes_on(server_without_plugin: Any) -> None:
    """Without the plugin its calculator is not found, its kind not listed, and others answer."""
    server = server_without_plugin
    assert server.call("POST", "/v1/calculators/bushing", READINGS).status == 404
    assert "/v1/calculators/bushing" not in server.get("/openapi.json")["paths"]
    assert "bushing" not in {kind["name"] for kind in server.get("/v1/kinds")["kinds"]}
    refused = server.call("POST", "/v1/lots", {"part": "BUSH-16", "drawer": "A3", "quantity": 1})
    assert refused.status == 422, "nothing more of the kind can be taken in"
    sac = {"barrel_bore": 8, "bar_height": 0.9, "nipple_diameter": 6.4, "barrel_depth": 62}
    assert server.post("/v1/calculators/sac", sac)["result"]["size"] == 15


def test_audit_agrees_without_the_plugin(
    installation_without_plugin: Any, server_without_plugin: Any
) -> None:
    """The ledger balances beside a running server, whoever declared the kinds of its lots."""
    assert server_without_plugin.get("/health/ready")
    installation_without_plugin.run("audit")
