"""What jobs wait for."""
