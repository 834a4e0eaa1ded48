"""What is to be ordered, and from whom."""
