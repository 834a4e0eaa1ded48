"""Places, lots, movements and reservations."""
