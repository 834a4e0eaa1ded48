"""What the core and every plugin declare; the commands that need no server need no more of it."""

from __future__ import annotations

from sparewell.app.settings import CORE_SETTINGS
from sparewell.extend.host import Declarations, load_declarations


def core_declarations(skip: frozenset[str] = frozenset()) -> Declarations:
    """Load every installed plugin beside the core's own settings."""
    return load_declarations(skip=skip, core_settings=CORE_SETTINGS)
