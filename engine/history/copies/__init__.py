"""Copies of a record: archives, backups, and proofs that two are the same."""
