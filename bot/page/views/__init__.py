"""What a phone is shown: question, rows, planters, calls, papers."""
