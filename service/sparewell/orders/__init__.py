"""What is ordered, and the parcels that came."""
