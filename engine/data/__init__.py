"""Definition files: languages, texts, forms and units, read so that nothing in them is guessed."""
