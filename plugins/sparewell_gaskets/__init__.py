"""Gaskets and washers, punched or turned, a kind of part found by its outside diameter."""
