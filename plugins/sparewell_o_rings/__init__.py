"""O-rings, a kind of part found by its inside diameter."""
