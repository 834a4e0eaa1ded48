"""Pens and donors that were bought together, and what each of them cost."""
