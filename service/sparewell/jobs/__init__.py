"""Repairs: what each needs, and how far it has come."""
