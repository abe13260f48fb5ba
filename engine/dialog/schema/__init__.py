"""The schema of a dialog file: slots, results, steps, roles, and the names of a script."""
