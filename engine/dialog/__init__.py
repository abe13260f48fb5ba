"""Dialogs as data: their schema, their checks and the interpreter that walks them."""
