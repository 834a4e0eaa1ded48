"""The templates of the repairs."""
