"""The plugin that says when to order: policies, forecasts and batch sizes, by published rules."""
