"""Cautions: what must not meet what, by material, step and substance."""
