"""The pens on the bench and their readings."""
