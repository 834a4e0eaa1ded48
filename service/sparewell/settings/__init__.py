"""The numbers of the trade, which a workshop may change, and the list of loaded plugins."""
