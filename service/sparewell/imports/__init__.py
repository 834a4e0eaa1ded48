"""Files of a notebook that are brought in."""
