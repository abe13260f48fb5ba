"""The journal: facts appended once, and what is read back from them."""
