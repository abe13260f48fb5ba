"""What comes in and goes out: kept first, done once, in order."""
