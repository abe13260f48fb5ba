"""Learning what the voice of one person is heard for."""
