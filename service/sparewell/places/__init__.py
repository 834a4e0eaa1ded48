"""Where pieces lie: drawers, donors, trays."""
