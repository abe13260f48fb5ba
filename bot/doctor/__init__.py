"""What can be wrong with an installation, looked for before the evening begins."""
