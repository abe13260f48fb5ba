"""Channels: updates in, replies out. Knows the engine and speech; nothing knows it.

The advice works on small matrices: more than one thread only makes threads wait for each other, so one is enough unless
the environment asks for more. This must stand before numpy is imported.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
