"""A pen on its way, over HTTP: waiting, steps, closing, outcomes, history, worth."""
