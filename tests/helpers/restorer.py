"""Puts a copy in the place of a record, and says when it begins: ``restorer.py COPY RECORD``."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path

from engine.history.copies.backup import restore


def main() -> None:
    copy, record = map(Path, sys.argv[1:])
    sys.stdin.readline()
    print("begun", flush=True)
    restore(copy, record, datetime.now(UTC))
    print("done", flush=True)


if __name__ == "__main__":
    main()
