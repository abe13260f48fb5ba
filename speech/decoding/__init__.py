"""Grammars as automata and decoding graphs, and how words sound."""
