"""Hoppers and product: how long they last, what was used of them, and what the label allows."""
