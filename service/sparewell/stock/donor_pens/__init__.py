"""Over HTTP: donors, their checklists, and taking pieces out."""
