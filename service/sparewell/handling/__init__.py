"""What is done with pieces: they arrive, are counted, moved, cut, put back, and it is undone."""
