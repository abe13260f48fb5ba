"""Keeping watch while a planter works: reports in any order, the next look, and what is in doubt when a row stopped."""
