"""For every test: laws are judged by what they find, never by how fast a busy machine finds it, and by the same cases
each time; ``ROWHAND_EXPLORE`` in the environment tries new ones, and more. What the person at this computer installed
or set is out of every test's sight."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import settings
from platformdirs import user_data_path

OWN_MODELS = "ROWHAND_MODELS_OF_THE_PERSON"

EXPLORES = "ROWHAND_EXPLORE" in os.environ
FEW, MANY = 50, 400
"""Cases by which a law is tried, each time and where new ones are explored."""

if settings.default is not None and settings.default.deadline is not None:
    settings.register_profile(
        "rowhand", deadline=None, derandomize=not EXPLORES, max_examples=MANY if EXPLORES else FEW
    )
    settings.load_profile("rowhand")


def pytest_configure(config: pytest.Config) -> None:
    """A home of this run's own for models, voices and settings; the real third opinion is the person's."""
    os.environ.setdefault(OWN_MODELS, os.environ.pop("ROWHAND_MODELS", str(user_data_path("rowhand") / "models")))
    home = tempfile.mkdtemp(prefix="rowhand-tests-")
    for kind in ("DATA", "CONFIG", "STATE"):
        os.environ[f"XDG_{kind}_HOME"] = str(Path(home, kind.lower()))
    config.add_cleanup(lambda: shutil.rmtree(home, ignore_errors=True))
