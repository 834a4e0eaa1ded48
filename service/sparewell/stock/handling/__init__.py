"""Over HTTP: what is done with pieces besides the plain acts on a lot."""
