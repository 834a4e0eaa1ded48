"""Every table of the core in one place, for the migrations."""

from sparewell.bench import tables as _bench
from sparewell.catalogue import tables as _catalogue
from sparewell.database.columns import Base
from sparewell.donors import tables as _donors
from sparewell.edge import tables as _edge
from sparewell.filling_systems import tables as _filling_systems
from sparewell.imports import tables as _imports
from sparewell.jobs import tables as _jobs
from sparewell.ledger import tables as _ledger
from sparewell.lots import tables as _lots
from sparewell.orders import tables as _orders
from sparewell.outcomes import tables as _outcomes
from sparewell.pens import tables as _pens
from sparewell.photographs import tables as _photographs
from sparewell.places import tables as _places
from sparewell.purchases import tables as _purchases
from sparewell.reservations import tables as _reservations
from sparewell.settings import tables as _settings
from sparewell.suppliers import tables as _suppliers
from sparewell.tonight import tables as _tonight

CORE_TABLE_MODULES = (
    _bench,
    _catalogue,
    _donors,
    _edge,
    _filling_systems,
    _imports,
    _jobs,
    _ledger,
    _lots,
    _orders,
    _outcomes,
    _pens,
    _photographs,
    _places,
    _purchases,
    _reservations,
    _settings,
    _suppliers,
    _tonight,
)

CORE_METADATA = Base.metadata
