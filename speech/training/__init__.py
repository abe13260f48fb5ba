"""Makes the shipped Vosk models: synthesise, pack, train, export, score.

See README.md; needs the ``training`` extra.
"""
