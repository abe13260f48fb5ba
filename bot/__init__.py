"""Channels: updates in, replies out. Knows the engine and speech; nothing knows it."""
