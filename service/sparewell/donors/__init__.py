"""Pens kept to be stripped."""
