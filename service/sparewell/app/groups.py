"""The groups of the API's document, as every reader and every generated client knows them.

A room may move; the group of a view may not. A view stands in its blueprint's group.
"""

from collections.abc import Mapping
from typing import Final

GROUPS: Final[Mapping[str, str]] = {
    "catalogue": "Kinds and parts",
    "stock": "Drawers, lots, the ledger, reservations",
    "handling": "Pieces that become others, counting a drawer, undoing",
    "donors": "Donors, their checklists, stripping",
    "repairs": "Pens, readings, jobs, plans, promises",
    "filling_systems": "The templates of the repairs",
    "job_needs": "What a job needs, and what to fetch",
    "job_plans": "What comes after a spoiled piece; undoing",
    "under_way": "Waiting, steps, outcomes, history, worth",
    "tonight": "All open jobs at once: what can be finished, and what to order for the others",
    "trade": "Pens bought together, and which to open first",
    "supply": "Suppliers, prices, orders, parcels",
    "reordering": "What is to be ordered, and from whom",
    "imports": "Files of a notebook that are brought in",
    "export": "Everything, to be taken elsewhere",
    "photographs": "Photographs of pens and donors",
    "extend": "Plugins, and the numbers of the trade",
    "fitting": "Which size fits, and which piece",
}
