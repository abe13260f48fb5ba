"""The formulas on the command line."""
