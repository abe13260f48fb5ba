"""Text to sound: voices, and what they said before."""
