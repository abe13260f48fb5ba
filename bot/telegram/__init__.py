"""The chat channel: updates into the inbox, turns, replies out of the outbox."""
