"""The shelf of speech models: where they come from, whether they work, which is in use."""
