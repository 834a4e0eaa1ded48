"""Whether balances, promises and parcels agree with the ledger."""
