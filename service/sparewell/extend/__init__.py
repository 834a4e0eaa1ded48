"""The plugin host: declarations, hook specifications, loading and settings."""
