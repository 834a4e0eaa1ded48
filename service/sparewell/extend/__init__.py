"""The plugin host: declarations, hook specifications, loading, guarded calculation."""
