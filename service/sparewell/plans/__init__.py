"""Which pieces a job can have, and the promises made of that."""
