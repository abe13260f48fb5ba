"""Buttons and edits: what a second tap, another one or a changed message means."""
