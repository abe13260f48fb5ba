"""Formulas of the trade: pure functions of dimensioned quantities, each with its source."""
