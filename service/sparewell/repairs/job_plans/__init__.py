"""Over HTTP: what a plan says of a need beside its pieces, and what comes after a spoiled one."""
