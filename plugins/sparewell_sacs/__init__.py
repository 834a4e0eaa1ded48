"""Sacs: the part kind, and the calculator that finds the size for a measured pen."""
