"""Engine, unit of work, column types and the migration runner."""
