"""What is to be ordered, thresholds, and the least order, over HTTP."""
