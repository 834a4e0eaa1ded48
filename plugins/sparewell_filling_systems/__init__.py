"""Filling systems: the templates of the repairs."""
