"""The utterance that DEVELOPERS.md follows goes through the functions that are named there, in that order."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from types import FrameType
from typing import Any

from bot.console import Talk
from bot.settings import load_settings
from bot.wiring import assistant, open_record
from tests.docs.examples import ROOT
from tests.helpers.talking import beginnings

GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
CHAPTER = GUIDE.partition("### One utterance")[2].partition("\n### ")[0]
PLACES = re.findall(r"^\| .* \| `([\w/]+\.py)`, `([\w.]+)` \|$", CHAPTER, re.MULTILINE)


def test_the_utterance_goes_the_way_that_is_told(tmp_path: Path) -> None:
    settings = load_settings(database=str(tmp_path / "record.db"))
    talk = Talk(assistant(settings, open_record(settings)), None)
    for said in [*beginnings()["prepared"], "test run", "all at fifteen"]:
        talk.hear(said)
    entered: list[tuple[str, str]] = []

    def seen(frame: FrameType, event: str, _: Any) -> None:
        if event == "call":
            entered.append((frame.f_code.co_filename, frame.f_code.co_qualname))

    sys.setprofile(seen)
    try:
        heard = talk.hear("row three sixty nine")
    finally:
        sys.setprofile(None)
    assert "69 g" in heard.reply.text
    way = iter((Path(file).relative_to(ROOT).as_posix(), name) for file, name in entered if file.startswith(str(ROOT)))
    assert len(PLACES) >= 8
    assert [place for place in PLACES if place not in way] == []
