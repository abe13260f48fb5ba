"""What the channel writes down while it runs: one line of key=value for each event, and nothing of what people said.

Only this program's own words are written. Lines of libraries may hold an address with the token in it, an error may
hold the words of a message: of both no more is written than where they came from and of what kind they are.
"""

from __future__ import annotations

import json
import logging
import sys
import threading
import traceback
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType

OWN = "rowhand"
WITHHELD = "words withheld"


class LogLine(logging.Formatter):
    """``time=… level=… from=… event="poll failed" error=TimedOut wait_s=0.5``"""

    def format(self, record: logging.LogRecord) -> str:
        own = record.name.split(".")[0] == OWN
        said = record.getMessage() if own else WITHHELD
        event, values = _parted(said)
        moment = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        parts = [f"time={moment}", f"level={record.levelname.lower()}", f"from={record.name}"]
        parts += [f"event={json.dumps(event, ensure_ascii=False)}", *values]
        if not own:
            parts.append(f"at={record.module}:{record.lineno}")
        if record.exc_info and record.exc_info[0]:
            parts += broken(record.exc_info[0], record.exc_info[2])
        return " ".join(parts).replace("\n", " ")


def _parted(said: str) -> tuple[str, list[str]]:
    """The words before the first key=value, and what follows."""
    words = said.split(" ")
    first = next((at for at, word in enumerate(words) if "=" in word), len(words))
    return " ".join(words[:first]), words[first:]


def broken(kind: type[BaseException], trace: TracebackType | None) -> list[str]:
    """What an error is and where it was raised, without its words."""
    frames = traceback.extract_tb(trace)
    place = [f"at={Path(frames[-1].filename).name}:{frames[-1].lineno}"] if frames else []
    return [f"error={kind.__name__}", *place]


def write_log() -> None:
    """Write to standard error from now on, warnings and errors that nobody caught too."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(LogLine())
    root = logging.getLogger()
    root.handlers[:] = [handler]
    root.setLevel(logging.WARNING)
    logging.getLogger(OWN).setLevel(logging.INFO)
    logging.captureWarnings(True)
    sys.excepthook = _ended
    threading.excepthook = _thread_ended


def _ended(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
    logging.getLogger(OWN).critical("ended", exc_info=(kind, error, trace))


def _thread_ended(given: threading.ExceptHookArgs) -> None:
    error = given.exc_value or given.exc_type()
    logging.getLogger(OWN).error("thread ended", exc_info=(given.exc_type, error, given.exc_traceback))
