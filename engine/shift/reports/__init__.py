"""What is told during a shift, and what it changes."""
