"""A typed sentence as spans: words spelled right, amounts, rows, moments."""
