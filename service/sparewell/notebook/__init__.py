"""Bringing a notebook in, from the table it was kept in, and taking everything out again."""
