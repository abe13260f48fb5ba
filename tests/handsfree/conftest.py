from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.helpers.cab import Cab, missing


@pytest.fixture
def cab(tmp_path: Path) -> Iterator[Cab]:
    """A sound card that is not there, with a microphone to speak into and a loudspeaker to listen to."""
    lacking = missing()
    if lacking:
        pytest.skip(f"no virtual sound card here: {lacking}")
    made = Cab(tmp_path)
    try:
        made.start()
        yield made
    finally:
        made.stop()
