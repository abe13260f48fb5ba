"""Takes an archive into a record, and says when it begins: ``importer.py ARCHIVE DATABASE``."""

from __future__ import annotations

import sys
from pathlib import Path

from engine.database import open_database
from engine.history.copies.archive import open_archive
from engine.history.copies.transfer import import_record


def main() -> None:
    source, place = sys.argv[1:]
    sys.stdin.readline()
    record = open_database(place)
    with open_archive(Path(source)) as archive:
        print("begun", flush=True)
        import_record(archive, record)
    print("done", flush=True)


if __name__ == "__main__":
    main()
