"""What stands in a text under an expectation: numbers, rows, moments, names, reports."""
