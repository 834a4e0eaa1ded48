"""O-rings: the part kind, published size tables, and two calculators.

`o_ring` judges rings in a gland by the extremes of all tolerances; `ring_identity` names the
standard sizes that a measured ring could be.
"""
