"""Reminders: when to look at the hoppers, and rows of the database that ask until somebody answers."""
