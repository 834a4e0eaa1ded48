"""Versions rise with every fact that plans and calculators read, and with no balance."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import pytest
from sqlalchemy import func, inspect, select

from sparewell.database.columns import Base
from sparewell.database.engine import Database
from sparewell.database.transaction import read
from sparewell.database.versions import Fact
from sparewell.edge.description import Description
from sparewell.jobs.schemas import JobDescription, NeedDescription
from sparewell.jobs.tables import Job
from sparewell.lots.schemas import LotDescription
from sparewell.lots.tables import Lot
from sparewell.pens.schemas import PenDescription
from sparewell.pens.tables import Pen
from sparewell.settings.tables import SettingChange
from support.api import Api
from support.server_process import TESTS

SERVICE = TESTS.parent / "service" / "sparewell"
# Another value for each member that a PATCH takes; an undecided need is decided, one is dropped.
CHANGES: Mapping[type[Description], Mapping[str, Any]] = {
    JobDescription: {
        "wishes": "a firm sac",
        "promised_on": "2026-12-24",
        "estimate": "30.00",
        "ceiling": "40.00",
        "postage": "5.00",
        "approval": {"state": "asked"},
        "time_minutes": 90,
        "value_as_restored": "120.00",
        "note": "hurry",
    },
    NeedDescription: {
        "quantity": 2,
        "given": {"barrel_depth": "60 mm"},
        "reads": {"barrel_bore": "barrel_depth"},
        "materials": ["silicone"],
        "optional": True,
        "note": "look twice",
        "calculator": None,
        "dropped": True,
    },
    PenDescription: {
        "called": "the other pen",
        "filling_system": "button",
        "materials": ["casein"],
        "owner": "a collector",
        "accessories": "a box",
        "condition": "worn",
        "components": [{"component": "cap", "material": "celluloid"}],
        "model_note": "no. 3",
        "note": "handle with care",
        "retired": True,
    },
    LotDescription: {
        "label": "16",
        "material": "vinyl",
        "material_confidence": "tested",
        "made_on": "2025",
        "measured": {"length": "70 mm"},
        "attributes": {},
        "note": "soft",
    },
}
# What is said beside another member, what a need has only before it is decided, balances, what
# things cost and fetch, and what is said of a job that is closed.
BESIDE = {
    NeedDescription: {"why", "decided"},
    LotDescription: {"cost"},
    PenDescription: {"cost", "might_fetch"},
    JobDescription: {"sold_on", "price", "sold_to", "warranty_until"},
}
NO_FACT_YET = {(LotDescription, "attributes")}  # a sac has none that could be changed
ADDRESSES: Mapping[type[Description], tuple[str, type[Any]]] = {
    JobDescription: ("/v1/jobs/JOB-0001", Job),
    NeedDescription: ("/v1/jobs/JOB-0001/needs/1", Job),
    PenDescription: ("/v1/pens/PEN-0001", Pen),
    LotDescription: ("/v1/lots/1", Lot),
}


def _version(database: Database, owner: type[Any]) -> int:
    with read(database) as session:
        version: int = session.execute(select(owner.version).where(owner.id == 1)).scalar_one()
        return version


@pytest.mark.parametrize("of", list(CHANGES), ids=lambda of: of.__name__)
def test_each_member_that_may_be_changed_raises_a_version(
    api: Api, database: Database, of: type[Description]
) -> None:
    """Each PATCH of a job, a need, a pen or a lot raises the version that plans compare."""
    api.stock()
    api.job()
    changeable = {name for name, each in of.described.items() if each.change}
    assert set(CHANGES[of]) == changeable - BESIDE.get(of, set())
    path, owner = ADDRESSES[of]
    for name, value in CHANGES[of].items():
        before = _version(database, owner)
        said = {name: value} | ({"why": "not needed"} if name == "dropped" else {})
        reply = api.patch(path, said)
        assert reply.status == 200, reply.text
        if (of, name) not in NO_FACT_YET:
            assert _version(database, owner) > before, name


def test_what_is_said_besides_raises_versions(api: Api, database: Database) -> None:
    """Readings and their corrections raise the pen's, new needs the job's, and so on."""
    api.stock()
    api.job()
    api.post("/v1/drawers", {"code": "B1"})
    fresh = {"readings": {"barrel_bore": "8.1 mm"}}
    undone = "/v1/movements/2/undo"
    acts: tuple[tuple[type[Any], str, Any], ...] = (
        (Pen, "/v1/pens/PEN-0001/readings", fresh),
        (Pen, "/v1/pens/PEN-0001/readings", fresh | {"corrects": 1, "why": "misread"}),
        (Job, "/v1/jobs/JOB-0001/needs", {"kind": "sac", "seals_where": "on the nipple"}),
        (Lot, "/v1/lots/1/move", {"drawer": "B1"}),
        (Lot, undone, {}),
        (Job, "/v1/jobs/JOB-0001/cancel", {}),
    )
    for owner, path, body in acts:
        before = _version(database, owner)
        assert api.post(path, body).status < 300, path
        assert _version(database, owner) > before, path
    before = _version(database, Lot)
    api.patch("/v1/parts/SAC-15-STR", {"dimensions": {"length": "80 mm"}})
    assert _version(database, Lot) > before


def test_settings_have_one_version_together(api: Api, database: Database) -> None:
    """Every change of a setting is a row, and the latest row is the version of all."""
    with read(database) as session:
        assert session.scalar(select(func.max(SettingChange.id))) is None
    api.patch("/v1/settings/sac.end_gap", {"value": "5 mm", "why": "tried"})
    with read(database) as session:
        assert session.scalar(select(func.max(SettingChange.id))) == 1


def test_a_balance_is_no_fact(api: Api, database: Database) -> None:
    """Promising, using, counting and costs leave the versions as they were."""
    api.stock(cost="10.00")
    job = api.job()
    before = [_version(database, owner) for owner in (Lot, Job, Pen)]
    made = api.post(f"/v1/jobs/{job}/reservations", {}).body["reservations"][0]["id"]
    for verb in ("fetch", "use"):
        assert api.post(f"/v1/reservations/{made}/{verb}").status == 200
    assert api.post("/v1/lots/1/count", {"counted": 3}).status == 200
    assert api.patch("/v1/lots/1", {"cost": "5.00"}).status == 200
    assert api.patch("/v1/pens/PEN-0001", {"cost": "9.00", "might_fetch": "80"}).status == 200
    assert api.post("/v1/purchases", {"price": 8, "lines": [{"pen": "PEN-0001"}]}).status == 201
    assert [_version(database, owner) for owner in (Lot, Job, Pen)] == before


def test_only_balances_and_costs_are_no_facts() -> None:
    """Whatever column is added is a fact, unless it is a balance or says what something cost."""
    assert {"in_hand", "promised", "has_available", "cost_minor"} == Lot.NO_FACTS
    assert {each.key for each in inspect(Lot).column_attrs} >= Lot.NO_FACTS
    assert not Job.NO_FACTS
    assert {"cost_minor", "might_fetch_minor", "purchase_id"} == Pen.NO_FACTS


def test_every_table_that_speaks_of_a_job_or_a_pen_is_a_fact_or_is_read_by_no_plan() -> None:
    """A new table that points at a versioned row has to say whether plans read it."""
    read_by_no_plan = {
        "donor",  # of a pen that is kept to be stripped
        "movement",
        "outcome",
        "photograph",
        "reservation",  # compared under the lock by itself
        "step_mark",
        "timer",
        "job",  # of its own
    }
    owners = {"job", "pen"}
    for mapper in Base.registry.mappers:
        points_at = {key.column.table.name for key in mapper.local_table.foreign_keys}
        if points_at & owners and not issubclass(mapper.class_, Fact):
            assert mapper.class_.__tablename__ in read_by_no_plan


def test_facts_are_changed_through_a_session_only() -> None:
    """No statement of the service but the ledger's one updates a versioned table past a session."""
    updates = re.compile(r"\bupdate\((Lot|Job|Pen|Need|Reading|Approval|_LOT|_JOB|_PEN)\b")
    found = {
        str(path.relative_to(SERVICE))
        for path in SERVICE.rglob("*.py")
        if updates.search(path.read_text())
    }
    assert found == {"ledger/operations.py"}
