"""The calculator plugin for fills: what a pen should take, and what to check when it takes less."""
