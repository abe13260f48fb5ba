"""Vosk models for tests: a small real one, and zip files of it or of nothing good."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

from speech import vosk
from speech.recognizer_choice import SHIPPED

REAL = next(folder for folder in (SHIPPED / "en-second", SHIPPED / "en") if vosk.is_model(folder))
LOOKS = {"am/final.mdl": b"not sound", "conf/mfcc.conf": b"-", "graph/HCLr.fst": b"-", "graph/Gr.fst": b"-"}
"""Files of a model that only looks like one."""


def packed(root: str = "a-model-en", folder: Path = REAL, without: str = "") -> bytes:
    """A zip file of a model folder, under ``root``."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for path in sorted(folder.rglob("*")):
            if path.is_file() and path.name != without:
                archive.write(path, Path(root) / path.relative_to(folder))
    return made.getvalue()


def zipped(files: dict[str, bytes]) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return made.getvalue()


def standing(folder: Path, files: dict[str, bytes] = LOOKS) -> Path:
    """A folder with these files."""
    for name, content in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    return folder
