"""Sparewell: parts and spares for the restoration of vintage fountain pens."""
