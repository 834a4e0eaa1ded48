"""Everything, to be taken elsewhere."""
