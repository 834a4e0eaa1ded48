"""Who sells parts, and for how much."""
