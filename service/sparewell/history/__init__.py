"""Everything that ever happened to a pen."""
