"""What harms which material, said before a step."""
