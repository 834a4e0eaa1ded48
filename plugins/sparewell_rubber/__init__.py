"""How long rubber and its substitutes keep in storage."""
