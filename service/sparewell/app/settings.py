"""Every setting of the core in one place, for whoever loads the plugins beside them."""

from sparewell.handling import settings as _handling
from sparewell.jobs import settings as _jobs
from sparewell.learned import settings as _learned
from sparewell.lots import settings as _lots
from sparewell.orders import settings as _orders
from sparewell.outcomes import settings as _outcomes
from sparewell.reorder import settings as _reorder
from sparewell.reservations import settings as _reservations

CORE_SETTINGS = (
    *_lots.SETTINGS,
    *_reservations.SETTINGS,
    *_handling.SETTINGS,
    *_outcomes.SETTINGS,
    *_learned.SETTINGS,
    *_jobs.SETTINGS,
    *_reorder.SETTINGS,
    *_orders.SETTINGS,
)
