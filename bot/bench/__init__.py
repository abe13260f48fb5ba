"""Measuring what Rowhand hears."""
