"""The texts that a phone says by itself, found in the files of the page: by their keys, as those files name them."""

from __future__ import annotations

import re

from bot.page.texts import PageKey
from bot.page.visitors.files import FOLDER

NAMED = re.compile(r"""["'](\w+)["']|\$(\w+)""")
PRESSED = "${key}_says"
"""How what a button says is named after its label."""


def said_on_phones() -> set[PageKey]:
    """Every key that is named; the words of a button with its label, in a file that presses buttons so."""
    found: set[str] = set()
    for path in FOLDER.iterdir():
        text = path.read_text(encoding="utf-8")
        named = {one or other for one, other in NAMED.findall(text)}
        found |= named | ({f"{name}_says" for name in named} if PRESSED in text else set())
    return {key for key in PageKey if key in found}
