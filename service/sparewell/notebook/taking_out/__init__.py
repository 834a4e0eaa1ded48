"""Taking everything out, over HTTP."""
