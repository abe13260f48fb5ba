"""The files of the page as they lie beside this module, read once and called by a version of their contents."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from pathlib import Path
from string import Template

from bot.page.texts import PageTexts
from engine.data.languages import LANGUAGES
from engine.messages import Language

FOLDER = Path(__file__).parents[1] / "site"
KINDS = {
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
    ".webmanifest": "application/manifest+json",
}
TEXTS = "texts.json"
OPEN_TO_ALL = frozenset({"style.css", "icon.svg"})
"""What a machine may load that is not paired: how the page for pairing looks."""


@dataclass(frozen=True)
class SiteFile:
    """One file as it is sent."""

    kind: str
    content: bytes


@dataclass(frozen=True)
class SiteFiles:
    """All files by name; the pages are filled with texts when they are asked for."""

    version: str
    files: Mapping[str, SiteFile]
    pages: Mapping[str, Template]

    def page(self, name: str, texts: Mapping[str, str], language: Language) -> str:
        """A page with its texts; all that is filled in is written so that it cannot be markup."""
        given = {key: escape(text, quote=True) for key, text in texts.items()}
        return self.pages[name].substitute(given, version=self.version, language=language)


@lru_cache(maxsize=1)
def site_files() -> SiteFiles:
    """Those of the package."""
    texts = PageTexts.load()
    said = {language: texts.for_phone(language) for language in LANGUAGES}
    files = {
        path.name: SiteFile(KINDS[path.suffix], path.read_bytes())
        for path in sorted(FOLDER.iterdir())
        if path.suffix in KINDS
    }
    files[TEXTS] = SiteFile("application/json", json.dumps(said, ensure_ascii=False).encode())
    pages = {path.name: Template(path.read_text(encoding="utf-8")) for path in sorted(FOLDER.glob("*.html"))}
    digest = hashlib.sha256()
    for name, file in files.items():
        digest.update(name.encode() + b"\0" + file.content)
    for page in pages.values():
        digest.update(page.template.encode())
    return SiteFiles(digest.hexdigest()[:16], files, pages)
