"""What was said becomes typed entries, given what was expected."""
