"""The engine: what was said becomes facts, and facts become the next thing to say."""
