"""Pieces that came together: what they are."""
