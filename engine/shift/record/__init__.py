"""The facts of a shift and its state: timeline, ledger, parts, plan."""
