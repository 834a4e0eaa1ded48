"""The end of a job: its tests, and what is said of it."""
