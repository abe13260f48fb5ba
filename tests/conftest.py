"""For every test: laws are judged by what they find, never by how fast a busy machine finds it, and by the same cases
each time; ``ROWHAND_EXPLORE`` in the environment tries new ones."""

from __future__ import annotations

import os

from hypothesis import settings

if settings.default is not None and settings.default.deadline is not None:
    settings.register_profile("rowhand", deadline=None, derandomize="ROWHAND_EXPLORE" not in os.environ)
    settings.load_profile("rowhand")
