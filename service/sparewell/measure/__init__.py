"""Exact lengths, dimensions, money and making dates; no third-party imports."""
