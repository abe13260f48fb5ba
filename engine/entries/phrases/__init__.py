"""The words of a language as data: patterns, phrases and the vocabulary they make up."""
