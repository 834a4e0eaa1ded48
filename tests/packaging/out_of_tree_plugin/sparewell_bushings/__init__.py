"""Brass bushes for worn lever pin holes."""
