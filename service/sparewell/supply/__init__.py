"""Suppliers and their prices, orders and parcels, and what is to be ordered."""
