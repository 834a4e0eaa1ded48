"""How used pieces turned out, and what that says of pens alike."""
