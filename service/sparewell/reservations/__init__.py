"""Pieces promised to jobs."""
