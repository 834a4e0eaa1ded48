"""Photographs of pens and donors.

They are rows of the same database, the bytes in a table of their own, so that no list ever reads
them. Files in a folder beside the database would be a second thing to keep: several workers on
several machines share the database and nothing else, a backup has to hold one moment, and what is
moved from SQLite to PostgreSQL has to arrive whole. As rows they are committed, backed up,
restored, moved and audited with everything else.

Both pens and donors have them. A pen that became a donor is one thing, so its photographs are the
pen's, whichever of its two numbers they are asked for by; that is why they live here, where both
are known, and not in the stock, which knows no pens.
"""
