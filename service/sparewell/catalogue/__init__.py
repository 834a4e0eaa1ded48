"""Kinds and parts."""
