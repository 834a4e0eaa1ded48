"""Pens, readings, filling systems, jobs, needs and plans."""
