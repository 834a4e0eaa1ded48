"""A batch of unopened pens: what each would need and fetch, and which to open first."""
