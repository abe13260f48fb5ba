"""Makes the shipped English Vosk models: synthesise, pack, train, export, score.

See README.md; needs the ``training`` extra.
"""
