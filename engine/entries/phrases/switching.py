"""What may be said to go on in another language: as a vocabulary has it, and what each language calls itself."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from engine.data.forms import forms_of
from engine.data.languages import Language
from engine.entries.phrases.phrase import Phrase, Phrases


def switching(language: Language, written: Mapping[str, Phrases], directory: Path) -> dict[str, Phrases]:
    """The phrases for every language of a folder of dialogs, in one ``language``.

    Those of languages that are not there drop out, so that a vocabulary need not change with the languages beside it.
    """
    return {
        code: (*written.get(code, ()), *(Phrase(say=name, heard=False) for name in forms.called if code != language))
        for code, forms in forms_of(directory).items()
    }
