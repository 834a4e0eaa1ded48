"""What is noted of pens and jobs when they come in, in JSON."""
