"""The plugin for what donors yield: nibs and other components as kinds, and how wide a line is."""
