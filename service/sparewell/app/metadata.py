"""Every table of the core in one place, for the migrations."""

from sparewell.bench import tables as _bench
from sparewell.catalogue import tables as _catalogue
from sparewell.database.columns import Base
from sparewell.edge import tables as _edge
from sparewell.extend import tables as _extend
from sparewell.notebook import tables as _notebook
from sparewell.repairs import tables as _repairs
from sparewell.repairs.photographs import tables as _photographs
from sparewell.stock import tables as _stock
from sparewell.supply import tables as _supply

CORE_TABLE_MODULES = (
    _bench,
    _catalogue,
    _edge,
    _extend,
    _notebook,
    _repairs,
    _photographs,
    _stock,
    _supply,
)

CORE_METADATA = Base.metadata
