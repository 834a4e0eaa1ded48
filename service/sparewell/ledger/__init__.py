"""The ledger: every movement of pieces, and the balances kept with it."""
