"""For every test: laws are judged by what they find, never by how fast a busy machine finds it."""

from __future__ import annotations

from hypothesis import settings

if settings.default is not None and settings.default.deadline is not None:
    settings.register_profile("rowhand", deadline=None)
    settings.load_profile("rowhand")
