"""Words that mean the same in every place, by language: ``synonyms.LANGUAGE.yaml``."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path

import yaml


@cache
def load_synonyms(language: str) -> Mapping[str, str]:
    """What each word is compared as, where that is another one; empty for words that say nothing. None are known of a
    language without a file."""
    file = Path(__file__).with_suffix(f".{language}.yaml")
    groups = yaml.safe_load(file.read_text(encoding="utf-8")) if file.is_file() else {}
    return {word: meant for meant, words in groups.items() for word in words}
