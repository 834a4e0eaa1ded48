"""A workshop with very many lots, for benchmarks of what looks at all of them.

It is written by the database itself: rows numbered by a recursive query.
"""

from __future__ import annotations

from datetime import timedelta

from sqlalchemy import text

from conftest import NOW
from sparewell.database.engine import Database
from support.api import Api

DRAWERS = 60
DAYS = 700
_NUMBERS = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < :rows)"
_DRAWERS = f"""INSERT INTO place (id, code, type, note, created_at)
{_NUMBERS} SELECT 1000 + i, 'B' || i, 'drawer', '', :now FROM n"""
_PARTS = f"""INSERT INTO part (id, number, kind, name, material, counted_by, note, created_at,
    outside_diameter_nanometres)
{_NUMBERS} SELECT 1000 + i, 'BIG-' || i, 'sac', 'a sac', 'latex', 'piece', '', :now,
    3000000 + i * 7919 % 10000000 FROM n"""
# Every tenth lot has had a piece fitted, every fifth has none left; half are years old.
_LOTS = f"""INSERT INTO lot (id, kind, part_id, place_id, measured, measured_how, attributes,
    material, material_confidence, made_from, made_on, arrived_at, note, in_hand, promised,
    has_available, outside_diameter_nanometres, length_nanometres)
{_NUMBERS} SELECT 1000 + i, 'sac', 1001 + i % :parts, 1001 + i % :drawers, '{{}}', '{{}}', '{{}}',
    CASE i % 3 WHEN 0 THEN 'PVC' ELSE 'latex' END, 'label',
    CASE WHEN i % 2 = 0 THEN LONG_AGO END, CASE WHEN i % 2 = 0 THEN '2012-01' END,
    :now, '', CASE WHEN i % 5 = 0 THEN 0 ELSE 3 - (CASE WHEN i % 10 = 1 THEN 1 ELSE 0 END) END, 0,
    i % 5 <> 0, 3000000 + i % :parts * 7919 % 10000000, 75000000 FROM n"""
_ACTS = f"""INSERT INTO act (id, at, actor, note)
{_NUMBERS} SELECT 1000 + i, AT_DAY, 'fill', '' FROM n"""
_ARRIVED = """INSERT INTO movement (act_id, lot_id, verb, change, cost_change_minor, pieces,
    place_id)
SELECT 1001 + id % :days, id, 'arrived', CASE WHEN (id - 1000) % 5 = 0 THEN 0 ELSE 3 END, 0,
    CASE WHEN (id - 1000) % 5 = 0 THEN 0 ELSE 3 END, place_id
FROM lot WHERE id > 1000"""
_RESERVED = """INSERT INTO reservation (id, lot_id, job_id, quantity, promised, in_tray, used,
    released, spoiled, lapsed, ended_as, actor, note, created_at)
SELECT id, id, (SELECT max(id) FROM job), 1, 0, 0, 1, 0, 0, 0, 'used', 'fill', '', :now
FROM lot WHERE id > 1000 AND (id - 1000) % 10 = 1"""
_FITTED = """INSERT INTO movement (act_id, lot_id, verb, change, cost_change_minor, pieces,
    place_id, reservation_id, job_id)
SELECT 1001 + lot.id % :days, lot.id, 'fitted', -1, 0, 1, place_id, reservation.id, job_id
FROM lot JOIN reservation ON reservation.lot_id = lot.id WHERE lot.id > 1000"""


def fill(database: Database, api: Api, lots: int, *, parts: int = 5_000, jobs: int = 200) -> None:
    """Add so many lots, with their ledger, and open jobs whose pens differ a little."""
    for number in range(jobs):
        api.job(barrel_bore=f"{7.4 + number % 97 * 0.02:.2f} mm")
    ended = api.job()  # all that was ever fitted counts as its
    assert api.post(f"/v1/jobs/{ended}/cancel").status == 200
    is_sqlite = database.is_sqlite
    long_ago = "'2012-01-01'" if is_sqlite else "DATE '2012-01-01'"
    now = NOW.replace(tzinfo=None) if is_sqlite else NOW
    ago = now - timedelta(days=DAYS)
    at = (
        "strftime('%Y-%m-%d %H:%M:%f000', :ago, '+' || i || ' days')"
        if is_sqlite
        else ("CAST(:ago AS timestamptz) + i * INTERVAL '1 day'")
    )
    sizes = {"parts": parts, "drawers": DRAWERS, "days": DAYS}
    with database.writer.begin() as connection:
        if not is_sqlite:
            connection.exec_driver_sql("SET LOCAL statement_timeout = 0")
        for statement, rows in (
            (_DRAWERS, DRAWERS),
            (_PARTS, parts),
            (_LOTS.replace("LONG_AGO", long_ago), lots),
            (_ACTS.replace("AT_DAY", at), DAYS),
            (_ARRIVED, lots),
            (_RESERVED, lots),
            (_FITTED, lots),
        ):
            values = {"rows": rows, "now": now, "ago": ago, **sizes}
            named = {name: each for name, each in values.items() if f":{name}" in statement}
            connection.execute(text(statement), named)
