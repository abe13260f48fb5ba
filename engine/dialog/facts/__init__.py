"""The facts of a conversation and what they come to: its state, and the book it leaves for others."""
