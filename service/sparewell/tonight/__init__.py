"""All jobs at once: which pens can be finished tonight, and what finishes the others."""
