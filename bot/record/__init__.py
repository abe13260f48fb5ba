"""The record told to a person: shifts, doubtful stretches and true rates in words."""
