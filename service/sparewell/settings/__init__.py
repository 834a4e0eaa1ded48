"""The numbers of the trade, which a workshop may change; and the plugins that brought them."""
